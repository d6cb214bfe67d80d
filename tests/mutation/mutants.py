"""All mutants of a module: what was changed, where, and the module's source with the change."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code

from tests.mutation.operators import operators


@dataclass(frozen=True)
class Mutant:
    """A module with one small fault; ``before`` and ``after`` are the lines that differ."""

    function: str
    before: str
    after: str
    source: str

    def __str__(self) -> str:
        """A row of a table in Markdown, where a stroke would end a cell."""
        before, after = (line.replace("|", "\\|") for line in (self.before, self.after))
        return f"| {self.function} | `{before}` | `{after}` |"


def mutants_of(path: Path) -> list[Mutant]:
    """Every mutant that Python takes for something else than the module and the other mutants."""
    parts, found = _parts(path.read_text(encoding="utf-8")), []
    for k, part in enumerate(parts):
        seen = {_meaning(part)}
        for mutated in _mutated(part):
            meaning = _meaning(mutated)
            if meaning and meaning not in seen:
                seen.add(meaning)
                source = "".join((*parts[:k], mutated, *parts[k + 1 :]))
                found.append(Mutant(*_difference(part, mutated), source))
    return found


def _parts(source: str) -> list[str]:
    """The module cut into its functions, classes and other statements: short ones parse quickly."""
    lines = source.splitlines(keepends=True)
    statements = ast.parse(source).body
    starts = [min(_decorators(s)) - 1 for s in statements[1:]]
    return ["".join(lines[a:b]) for a, b in pairwise((0, *starts, len(lines)))]


def _decorators(statement: ast.stmt) -> list[int]:
    """The lines of its decorators, and its own."""
    return [part.lineno for part in (*getattr(statement, "decorator_list", ()), statement)]


def _mutated(part: str) -> Iterator[str]:
    nodes = list(ast_nodes(get_ast(part)))
    for operator in operators():
        count = sum(len(list(operator.mutation_positions(node))) for node in nodes)
        for occurrence in range(count):
            yield mutate_code(part, operator, occurrence)


def _meaning(source: str) -> str:
    """What Python makes of the source, without annotations: they are never evaluated here.

    Nothing where it is no Python. The star before arguments that have to be named is taken for a
    product; what becomes of it is no fault in a calculation, and counts as nothing new.
    """
    try:
        parsed = ast.parse(source)
    except SyntaxError:
        return ""
    for node in ast.walk(parsed):
        if isinstance(node, ast.arg | ast.AnnAssign):
            node.annotation = ast.Constant(None)
        elif isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.arguments):
            node.args = [*node.posonlyargs, *node.args, *node.kwonlyargs]
            node.defaults += filter(None, node.kw_defaults)
            node.posonlyargs = node.kwonlyargs = node.kw_defaults = []
    return ast.dump(parsed)


def _difference(part: str, mutated: str) -> tuple[str, str, str]:
    """The function around the first line that differs, and that line before and after."""
    pairs = zip(part.splitlines(), mutated.splitlines(), strict=False)
    number, (before, after) = next((k, pair) for k, pair in enumerate(pairs, 1) if len({*pair}) > 1)
    names = [
        node.name
        for node in ast.walk(ast.parse(part))
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and min(_decorators(node)) <= number <= (node.end_lineno or 0)
    ]
    return (names or ["module"])[-1], before.strip(), after.strip()
