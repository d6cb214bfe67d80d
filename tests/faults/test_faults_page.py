"""The page of what goes wrong: every row is held by tests, and quotes what they look for."""

from __future__ import annotations

import re
from pathlib import Path

FAULTS = Path(__file__).parent
PAGE = FAULTS.parents[1] / "sim" / "docs" / "faults.md"
# The tests of each row, in the order of the page.
HELD_BY = {
    "the disk is full": "test_full_disk_leaves_nothing",
    "the disk is read-only": "test_read_only_disk test_folder_without_permission",
    "two runs": "test_second_run_into_a_folder_is_refused test_many_at_once_give_one_whole_run",
    "the folder is a file": "test_folder_that_is_none",
    "the folder is a link": "test_folder_that_is_a_link",
    "it is a link": "test_folder_that_is_a_link_to_nowhere",
    "links in": "test_links_in_the_folder_are_never_written_through",
    "a folder in it": "test_folder_with_a_folder_for_a_file",
    "the folder is where": "test_where_a_disk_begins",
    "the name is too long": "test_names_too_long",
    "a result there": "test_results_worked_on_since_are_not_written_over",
    "a result would": "test_files_of_an_earlier_run_that_this_one_reads_stay "
    "test_no_result_takes_the_place_of_what_is_read",
    "the current folder": "test_current_folder_that_is_gone",
    "Ctrl-C": "test_told_to_stop_while_writing test_ended_at_any_moment",
    "the same in a long": "test_told_to_stop_while_playing",
    "killed outright (": "test_folder_is_free_once_its_run_is_killed",
    "killed outright while": "test_ended_at_any_moment",
    "left-overs": "test_left_overs_that_cannot_be_understood_are_kept",
    "a block is": "test_damaged_blocks_are_not_taken test_block_that_is_no_file",
    "`run.json`": "test_store_with_no_file_to_say_whose_it_is",
    "it belongs": "test_store_of_another_run_is_refused",
    "files of yours": "test_files_of_others_in_the_folder_are_left_alone",
    "the disk is full ": "test_full_disk_keeps_the_blocks_that_there_are",
    "the reader": "test_reader_that_has_had_enough",
    "standard output is full": "test_full_standard_output",
    "standard error": "test_full_standard_error test_listener_that_has_had_enough",
    "standard output is closed": "test_closed_streams",
    "the terminal": "test_terminal_of_few_letters",
    "there is no home": "test_neither_home_nor_cache_nor_folder_for_scratch_files",
    "there is too little": "test_too_little_memory",
    "no further": "test_too_few_open_files_for_so_many_workers test_no_further_process",
    "a worker": "test_a_killed_worker_is_told",
    "the Dask": "test_scheduler_that_dies_is_told",
}


def _rows() -> list[list[str]]:
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    cells = [re.split(r"(?<!\\)\|", line)[1:-1] for line in lines if line.startswith("| ")]
    return [
        [cell.strip() for cell in row] for row in cells if row[0].strip() not in ("when", "---")
    ]


def test_every_row_is_held_by_tests() -> None:
    rows = _rows()
    assert len(rows) == len(HELD_BY)
    tests = "".join(path.read_text(encoding="utf-8") for path in FAULTS.parent.rglob("test_*.py"))
    for row, (beginning, names) in zip(rows, HELD_BY.items(), strict=True):
        assert row[0].startswith(beginning.strip())
        assert len(row) == 4
        for name in names.split():
            assert f"def {name}(" in tests, (row[0], name)


def test_what_it_quotes_is_what_the_tests_look_for() -> None:
    tests = [*FAULTS.glob("test_*_faults.py"), FAULTS.parent / "test_long_runs.py"]
    looked_for = "".join(path.read_text(encoding="utf-8") for path in tests)
    quoted = [text for row in _rows() for text in re.findall(r'"([^"]+)"', row[1])]
    assert len(quoted) > 20
    assert [text for text in quoted if text not in looked_for] == []
