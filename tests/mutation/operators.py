"""The small faults that are put into the code: those of cosmic-ray that mean something, and ours.

Of cosmic-ray's arithmetic only what gives another number is taken: bits of a float, or its matrix
product, fail at once and would only flatter the tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import cosmic_ray.plugins
import parso.python.tree as tree
from cosmic_ray.operators.operator import Example, Operator
from parso.tree import NodeOrLeaf

Position = tuple[tuple[int, int], tuple[int, int]]

_FROM_COSMIC_RAY: Final = (
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("Add_Sub", "Add_Mul", "Sub_Add", "Sub_Mul")),
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("Mul_Div", "Mul_Add", "Div_Mul", "Div_Add")),
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("Pow_Mul", "Mod_Mul", "Mod_FloorDiv")),
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("BitAnd_BitOr", "BitAnd_BitXor")),
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("BitOr_BitAnd", "BitOr_BitXor")),
    *(
        f"ReplaceComparisonOperator_{one}_{other}"
        for one in ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")
        for other in ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")
        if one != other
    ),
    *(f"ReplaceUnaryOperator_Delete_{sign}" for sign in ("USub", "Invert", "Not")),
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "NumberReplacer",
    "RemoveDecorator",
    "ZeroIterationForLoop",
)


class WordReplaced(Operator):
    """One word or sign for another wherever it stands."""

    instead: Final = {
        "maximum": "minimum",
        "minimum": "maximum",
        "max": "min",
        "min": "max",
        "any": "all",
        "all": "any",
        "+=": "-=",
        "-=": "+=",
        "*=": "/=",
        "/=": "*=",
        "|=": "&=",
        "&=": "|=",
    }

    def mutation_positions(self, node: NodeOrLeaf) -> Iterator[Position]:
        if isinstance(node, tree.Name | tree.Operator) and node.value in self.instead:
            yield node.start_pos, node.end_pos

    def mutate(self, node: tree.Name | tree.Operator, index: int) -> NodeOrLeaf:
        node.value = self.instead[node.value]
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("x = max(y, 0)", "x = min(y, 0)"), Example("x += 1", "x -= 1"))


class StatementLeftOut(Operator):
    """``pass`` instead of a call for its effect, or of a change in place."""

    def mutation_positions(self, node: NodeOrLeaf) -> Iterator[Position]:
        if node.parent is not None and node.parent.type == "simple_stmt" and _has_effect(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node: NodeOrLeaf, index: int) -> NodeOrLeaf:
        return tree.Keyword("pass", node.start_pos, node.get_first_leaf().prefix)

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("x += 1", "pass"), Example("x.put(1)", "pass"), Example("x[0] = 1", "pass"))


def _has_effect(node: NodeOrLeaf) -> bool:
    if node.type == "atom_expr":
        return True
    if node.type != "expr_stmt":
        return False
    target, sign = node.children[:2]
    return sign.type == "operator" and (sign.value != "=" or target.type == "atom_expr")


def operators() -> list[Operator]:
    """One of every kind, in an order that stays."""
    theirs = (cosmic_ray.plugins.get_operator(f"core/{name}")() for name in _FROM_COSMIC_RAY)
    return [*theirs, WordReplaced(), StatementLeftOut()]
