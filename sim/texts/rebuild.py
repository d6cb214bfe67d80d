"""What came of making a run again, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from sim.manifest import NUMBERS
from sim.rebuilt_files import Cells, Difference, Gap, Lines, Pixels, Rebuilt, Shapes
from sim.texts.table import aligned
from sim.wording import counted, joined

_OURS: Final = "reachshare"
_UNKNOWN: Final = "differs; the original is not beside the manifest to say by how much"


def rebuilt_text(rebuilt: Rebuilt) -> str:
    """How many files are the same, what differs and by how much, and what may explain it."""
    lines = [_answer(rebuilt)]
    if table := _differences(rebuilt):
        lines.append(aligned(table))
    if rebuilt.changed:
        many = len(rebuilt.changed) > 1
        lines.append(
            f"Beside the manifest, {joined(rebuilt.changed)} {'are' if many else 'is'} not as the "
            f"run wrote {'them' if many else 'it'}: changed since."
        )
    if rebuilt.entries:
        lines.append(f"The manifest itself comes out otherwise in: {', '.join(rebuilt.entries)}.")
    return "\n".join([*lines, *_versions_told(rebuilt.versions)])


def _answer(rebuilt: Rebuilt) -> str:
    different = len(rebuilt.differing) + len(rebuilt.unknown) + len(rebuilt.new)
    whole = f"Rebuilt {counted(len(rebuilt.same) + different, 'file')}"
    if not different and not rebuilt.missing:
        return f"{whole}: all the same to the byte."
    return f"{whole}: {len(rebuilt.same)} the same to the byte, {different} not."


def _differences(rebuilt: Rebuilt) -> list[list[str]]:
    told = {name: in_words(found) for name, found in rebuilt.differing.items()}
    told |= dict.fromkeys(rebuilt.unknown, _UNKNOWN)
    told |= dict.fromkeys(rebuilt.missing, "did not come out; the manifest tells of it")
    told |= dict.fromkeys(rebuilt.new, "came out; the manifest does not tell of it")
    return [[name, words] for name, words in sorted(told.items())]


def in_words(found: Difference) -> str:
    """In what a file differs.

    >>> in_words(Cells(None, Gap(1, 2e-06, "in_control_share", 3), 0))
    '1 number differs, by 0.000002 (in_control_share, line 3)'
    >>> in_words(Pixels(0.0, 0))
    'the same picture to the pixel, in other bytes'
    """
    if isinstance(found, Cells):
        return _cells(found)
    if isinstance(found, Pixels):
        if not found.most:
            return "the same picture to the pixel, in other bytes"
        share = f"{100.0 * found.share:.2g}"
        return f"{share} % of its pixels differ, by {found.most} of 255 at most"
    if isinstance(found, Lines):
        if not found.differing:
            return "the same lines, ended otherwise"
        return f"{_differing(found.differing, 'line')}, the first is line {found.first}"
    if isinstance(found, Shapes):
        return f"was {found.before}, is now {found.now}"
    return "other bytes"


def _cells(found: Cells) -> str:
    told = [_gap(found.counts, "count"), _gap(found.numbers, "number")]
    told.append(_differing(found.words, "word") if found.words else "")
    return "; ".join(filter(None, told))


def _gap(gap: Gap | None, noun: str) -> str:
    if gap is None:
        return ""
    amount = f"{gap.largest:.6f}".rstrip("0").rstrip(".")
    most = " at most" if gap.cells > 1 else ""
    return f"{_differing(gap.cells, noun)}, by {amount}{most} ({gap.column}, line {gap.line})"


def _differing(number: int, noun: str) -> str:
    return f"{counted(number, noun)} {'differs' if number == 1 else 'differ'}"


def _versions_told(versions: Mapping[str, tuple[str, str]]) -> Iterable[str]:
    """What may differ where versions do."""
    if _OURS in versions:
        pair = _pairs([_OURS], versions)
        yield f"{pair}: another version may count otherwise: numbers may differ."
    if numeric := [name for name in ("machine", *NUMBERS) if name in versions]:
        yield (
            f"{_pairs(numeric, versions)}: the last digits of numbers may be rounded otherwise, "
            "and a ball at the very edge of reach may fall the other way."
        )
    known = (_OURS, "machine", *NUMBERS)
    if drawing := [name for name in versions if name not in known]:
        yield f"{_pairs(drawing, versions)}: pictures and pages may come out a little otherwise."


def _pairs(names: Iterable[str], versions: Mapping[str, tuple[str, str]]) -> str:
    then = joined([f"{name} {versions[name][0]}" for name in names])
    now = joined([f"{name} {versions[name][1]}" for name in names])
    return f"Made with {then}, rebuilt with {now}"
