"""Faults made from a module's syntax tree by a fixed list of operators.

The list is that of five operators which find nearly what all of twenty-two find: relations,
arithmetic, logical connectors, negation and absolute values (Offutt, Lee, Rothermel, Untch and Zapf
1996, An experimental determination of sufficient mutant operators, ACM TOSEM 5(2), 99-118; from
memory), with constants and statements left out beside it (Deng, Offutt and Li 2013, Empirical
evaluation of the statement deletion mutation operator, ICST; from memory). Each replaces one piece
by one other; in place of absolute values, which nothing here takes, arguments are swapped, and
least and most. What counts constants, such as how long they may be, is not for an operator to know,
so a few of the faults change nothing that anybody can see.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeGuard

ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr, ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift, ast.RShift: ast.LShift,
}  # fmt: skip
RELATIONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
"""A relation becomes its neighbour at the boundary, and its opposite."""
OPPOSITES = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum",
    "maximum": "minimum", "floor": "ceil", "ceil": "floor",
}  # fmt: skip
LEFT_OUT = (
    ast.Assign, ast.AugAssign, ast.AnnAssign, ast.Expr, ast.Raise, ast.Continue, ast.Break,
    ast.Delete,
)  # fmt: skip
"""Statements that are left out whole."""
SHORTEST_SWAP = 2
LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Mutant:
    """A fault made from the source.

    Attributes:
        path: of the file, from the project's root.
        number: its place among the faults of its file.
        operator: which of the list made it.
        line, end: of the piece that is replaced; statement: of what stands around it.
        before, after: the piece and what it becomes.
        is_inside: whether it lies within a function, which can be put in place of the one that
            runs; else it is done while the module is imported.
    """

    path: str
    number: int
    operator: str
    line: int
    end: int
    statement: tuple[int, int]
    before: str
    after: str
    is_inside: bool

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.operator}: {self.before} → {self.after}"


@dataclass(slots=True)
class _Place:
    """Where a piece stands in its tree."""

    parent: ast.AST
    field: str
    index: int | None
    node: ast.AST
    statement: ast.stmt
    is_inside: bool

    def put(self, node: ast.AST) -> None:
        """Puts another piece there."""
        if self.index is None:
            setattr(self.parent, self.field, node)
        else:
            getattr(self.parent, self.field)[self.index] = node


def mutants_of(source: str, path: str) -> list[Mutant]:
    """Every fault that the operators make from a module."""
    found = []
    for number, (place, operator, after) in enumerate(_changes(ast.parse(source))):
        node = place.node
        line, end = getattr(node, "lineno", 0), getattr(node, "end_lineno", 0)
        found.append(
            Mutant(path, number, operator, line, end, _own_lines(place.statement), _shown(node),
                   "nothing" if operator == "statement" else _shown(after), place.is_inside)
        )  # fmt: skip
    return found


def mutated(source: str, number: int) -> ast.Module:
    """The tree of a module with one of its faults.

    Raises:
        IndexError: where the module has no such fault.
    """
    tree = ast.parse(source)
    for at, (place, _, after) in enumerate(_changes(tree)):
        if at == number:
            place.put(ast.fix_missing_locations(ast.copy_location(after, place.node)))
            return tree
    raise IndexError(f"the module has no fault number {number}")


def names_of(source: str) -> set[str]:
    """Names that a module makes itself, not those that it imports."""
    found = set()
    for statement in ast.parse(source).body:
        if isinstance(statement, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            found.add(statement.name)
        elif isinstance(statement, ast.Assign | ast.AnnAssign):
            found |= {one.id for one in ast.walk(statement) if _is_stored(one)}
    return found


def _is_stored(node: ast.AST) -> TypeGuard[ast.Name]:
    return isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)


def _shown(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"


def _own_lines(statement: ast.stmt) -> tuple[int, int]:
    """Lines of a statement, of one with a body those of its head."""
    body = getattr(statement, "body", None)
    last = statement.end_lineno or statement.lineno
    if isinstance(body, list) and body:
        last = max(statement.lineno, body[0].lineno - 1)
    return statement.lineno, last


def _changes(tree: ast.Module) -> Iterator[tuple[_Place, str, ast.AST]]:
    """Each piece with an operator and what it becomes, always in the same order."""
    for place in _places(tree, None, False):
        for operator, after in _replaced(place):
            yield place, operator, after


def _places(node: ast.AST, statement: ast.stmt | None, is_inside: bool) -> Iterator[_Place]:
    """Every piece below a node that an operator may change.

    Not among them: types, docstrings, what is imported for types alone, and texts with values in
    them, whose pieces have no lines of their own.
    """
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "type_comment", "type_params"):
            continue
        many = value if isinstance(value, list) else [value]
        for index, child in enumerate(many):
            if not isinstance(child, ast.AST) or _is_apart(child):
                continue
            around = child if isinstance(child, ast.stmt) else statement
            inside = is_inside or _is_within(node, field)
            if around is not None and isinstance(child, ast.expr | ast.stmt):
                place = index if isinstance(value, list) else None
                yield _Place(node, field, place, child, around, inside)
            yield from _places(child, around, inside)


def _is_within(node: ast.AST, field: str) -> bool:
    """Whether a part of a node runs when a function is called, and not while it is defined."""
    return isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) and field == "body"


def _is_apart(node: ast.AST) -> bool:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True  # a docstring
    if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        return True
    return isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom)


def _replaced(place: _Place) -> Iterator[tuple[str, ast.AST]]:
    """What the operators make of a piece."""
    node = place.node
    if isinstance(node, ast.expr):
        yield from _of_expression(node)
        is_condition = place.field == "test" or place.field == "ifs"
        plain = not isinstance(node, ast.Compare | ast.BoolOp | ast.UnaryOp | ast.Constant)
        if is_condition and plain:
            yield "negation", ast.UnaryOp(ast.Not(), node)
    elif isinstance(node, ast.AugAssign) and type(node.op) in ARITHMETIC:
        other = copy.copy(node)
        other.op = ARITHMETIC[type(node.op)]()
        yield "arithmetic", other
    if isinstance(node, ast.Return) and not _is_none(node.value):
        yield "return", ast.Return(ast.Constant(None))
    if isinstance(node, LEFT_OUT) and place.is_inside and getattr(node, "value", node) is not None:
        # names stay those of the function, as they would not if the text were gone
        yield "statement", ast.If(ast.Constant(0), [node], [])


def _is_none(value: ast.expr | None) -> bool:
    return value is None or (isinstance(value, ast.Constant) and value.value is None)


def _of_expression(node: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    match node:
        case ast.BinOp(op=op) if type(op) in ARITHMETIC and not _is_text(node.left):
            yield "arithmetic", ast.BinOp(node.left, ARITHMETIC[type(op)](), node.right)
        case ast.Compare():
            for at, relation in enumerate(node.ops):
                for other in RELATIONS[type(relation)]:
                    ops = [*node.ops[:at], other(), *node.ops[at + 1 :]]
                    yield "relation", ast.Compare(node.left, ops, node.comparators)
        case ast.BoolOp(op=ast.And()):
            yield "connector", ast.BoolOp(ast.Or(), node.values)
        case ast.BoolOp(op=ast.Or()):
            yield "connector", ast.BoolOp(ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield "negation", node.operand
        case ast.Constant(value=bool() as truth):
            yield "constant", ast.Constant(not truth)
        case ast.Constant(value=(int() | float()) as number):
            yield "constant", ast.Constant(number + 1)
            if number:
                yield "constant", ast.Constant(type(number)(0))
        case ast.Call():
            yield from _of_call(node)
        case _:
            pass


def _of_call(node: ast.Call) -> Iterator[tuple[str, ast.expr]]:
    function = node.func
    name = function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")
    if name in OPPOSITES:
        other: ast.expr = copy.copy(function)
        setattr(other, "id" if isinstance(function, ast.Name) else "attr", OPPOSITES[name])
        yield "opposite", ast.Call(other, node.args, node.keywords)
        return
    first, rest = node.args[:SHORTEST_SWAP], node.args[SHORTEST_SWAP:]
    if len(first) < SHORTEST_SWAP or any(isinstance(one, ast.Starred) for one in first):
        return
    if ast.dump(first[0]) != ast.dump(first[1]):
        yield "arguments", ast.Call(function, [first[1], first[0], *rest], node.keywords)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
