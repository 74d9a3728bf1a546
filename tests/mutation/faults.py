"""Small faults of the calculation modules: what may stand wrongly in place of what stands there."""

from __future__ import annotations

import ast
import copy
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("fitting", "predictor", "conversion", "answers/figures")
COMPARED = {
    ast.Lt: ast.Gt, ast.LtE: ast.Gt, ast.Gt: ast.Lt, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
EDGES = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
WORKED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
OPPOSITE = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "floor": "ceil", "ceil": "floor",
    "any": "all", "all": "any", "argmin": "argmax", "argmax": "argmin", "exp": "log", "log": "exp",
}  # fmt: skip
DROPPED = {
    *[
        "sqrt",
        "abs",
        "exp",
        "log",
        "clip",
        "square",
        "cumsum",
        "diff",
        "sort",
        "maximum",
        "minimum",
        "max",
        "min",
    ]
}
EITHER_WAY = {"isinstance", "min", "max", "minimum", "maximum", "hypot", "getattr", "zip"}
UNTOUCHED = frozenset({"annotation", "returns", "decorator_list", "format_spec", "type_params"})


@dataclass(frozen=True)
class Fault:
    """One planted fault: its module, its kind, where it is, what stood there and what stands there now."""

    module: str
    kind: str
    line: int
    before: str
    after: str
    lines: range
    statement: ast.stmt
    plant: Callable[[], ast.stmt] = field(compare=False)


def faulty(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """What may stand wrongly in place of a node, each with its kind.

    >>> [(kind, ast.unparse(each)) for kind, each in faulty(ast.parse("a * b", mode="eval").body)]
    [('operator', 'a / b'), ('dropped', 'a'), ('dropped', 'b')]
    """
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        operation = type(node.ops[0])
        yield "comparison", ast.Compare(node.left, [COMPARED[operation]()], node.comparators)
        counts = any(isinstance(side, ast.Constant) and type(side.value) is int for side in node.comparators)
        if counts and operation in EDGES:
            yield "comparison", ast.Compare(node.left, [EDGES[operation]()], node.comparators)
    elif isinstance(node, ast.BinOp) and not isinstance(node.left, ast.JoinedStr):
        if type(node.op) in WORKED:
            yield "operator", ast.BinOp(node.left, WORKED[type(node.op)](), node.right)
        if isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.Div):
            yield "dropped", node.left
        if isinstance(node.op, ast.Add | ast.Mult):
            yield "dropped", node.right
    elif isinstance(node, ast.BoolOp):
        yield "operator", ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        for left_out in range(len(node.values)):
            rest = node.values[:left_out] + node.values[left_out + 1 :]
            yield "dropped", ast.BoolOp(node.op, rest) if len(rest) > 1 else rest[0]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield "sign", node.operand
    elif isinstance(node, ast.IfExp):
        yield "branch", ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.Constant):
        yield from (("number", ast.Constant(wrong)) for wrong in _wrong_values(node.value))
    elif isinstance(node, ast.Slice):
        for side, step in (("lower", ast.Add()), ("upper", ast.Sub())):
            if (at := getattr(node, side)) is not None:
                moved = copy.copy(node)
                setattr(moved, side, ast.BinOp(at, step, ast.Constant(1)))
                yield "slice", moved
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
        yield from _wrong_calls(node, "id" if isinstance(node.func, ast.Name) else "attr")


def _wrong_values(value: object) -> list[object]:
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1, *([2 * value, value // 2] if value > 3 else [])]
    if isinstance(value, float):
        return [2 * value, value / 2, 1.5 * value] if value else [1.0]
    return []


def _wrong_calls(node: ast.Call, field: str) -> Iterator[tuple[str, ast.AST]]:
    name = getattr(node.func, field)
    if name in OPPOSITE:
        opposite = copy.copy(node)
        opposite.func = copy.copy(node.func)
        setattr(opposite.func, field, OPPOSITE[name])
        yield "opposite", opposite
    if name in DROPPED and node.args:
        yield "dropped", node.args[0]
    if len(node.args) < 2 or name in EITHER_WAY or any(isinstance(each, ast.Starred) for each in node.args):
        return
    if ast.dump(node.args[0]) != ast.dump(node.args[1]):
        yield "swapped", ast.Call(node.func, [node.args[1], node.args[0], *node.args[2:]], node.keywords)


def faults_of(module: str) -> list[Fault]:
    """Every fault that can be planted in a module, but in annotations, decorators, errors, fields and what a
    zip checks."""
    found: list[Fault] = []
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))

    def visit(node: ast.AST, statement: ast.stmt, lines: range) -> None:
        if isinstance(node, ast.Raise | ast.JoinedStr) or getattr(node, "arg", None) == "strict":
            return
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            return
        for part, value in ast.iter_fields(node):
            if part in UNTOUCHED or (isinstance(node, ast.ClassDef) and part != "body"):
                continue
            for index, child in enumerate(value) if isinstance(value, list) else ((None, value),):
                if isinstance(node, ast.ClassDef):
                    if isinstance(child, ast.FunctionDef):
                        visit(child, statement, lines)
                    continue
                if not isinstance(child, ast.AST):
                    continue
                within = _lines_of(child) if isinstance(child, ast.stmt) else lines
                for kind, wrong in faulty(child):
                    line, texts = getattr(child, "lineno", within.start), map(ast.unparse, (child, wrong))
                    planted = partial(_planted, statement, (node, part, index), child, wrong)
                    found.append(Fault(module, kind, line, *texts, within, statement, planted))
                visit(child, statement, within)

    for statement in tree.body:
        if not isinstance(statement, ast.Import | ast.ImportFrom):
            visit(statement, statement, _lines_of(statement))
    return found


def _lines_of(statement: ast.stmt) -> range:
    """The lines of a statement without those of the statements in it."""
    within = getattr(statement, "body", None)
    return range(statement.lineno, (within[0].lineno if within else statement.end_lineno + 1))


def _planted(
    statement: ast.stmt, place: tuple[ast.AST, str, int | None], right: ast.AST, wrong: ast.AST
) -> ast.stmt:
    """A statement with something wrong in one place."""
    _put(*place, ast.copy_location(wrong, right) if hasattr(right, "lineno") else wrong)
    planted = ast.fix_missing_locations(copy.deepcopy(statement))
    _put(*place, right)
    return planted


def _put(parent: ast.AST, field: str, index: int | None, child: ast.AST) -> None:
    if index is None:
        setattr(parent, field, child)
    else:
        getattr(parent, field)[index] = child


def path_of(module: str) -> Path:
    """The file of a module of the estimator."""
    return ROOT / "estimator" / f"{module.replace('.', '/')}.py"


def names_given(statement: ast.stmt) -> Iterator[str]:
    """The names that a statement gives: of its function, its class or what it assigns to.

    >>> list(names_given(ast.parse("a, b = [(each, 1) for each in c]").body[0]))
    ['a', 'b']
    """
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        yield statement.name
    for target in getattr(statement, "targets", [getattr(statement, "target", ast.Tuple())]):
        yield from (node.id for node in ast.walk(target) if isinstance(node, ast.Name))


def modules() -> list[str]:
    """The calculation modules by their names within `estimator`."""
    return [
        ".".join(file.relative_to(ROOT / "estimator").with_suffix("").parts)
        for room in ROOMS
        for file in sorted((ROOT / "estimator" / room).rglob("*.py"))
        if file.name != "__init__.py"
    ]


def drawn(count: int, seed: int) -> list[Fault]:
    """Faults over all modules: a module by its lines, one of its kinds, one fault of that kind."""
    rng = random.Random(seed)
    names = modules()
    lines = [len(path_of(name).read_text(encoding="utf-8").splitlines()) for name in names]
    found: dict[str, list[Fault]] = {}
    taken: list[Fault] = []
    while len(taken) < count:
        (name,) = rng.choices(names, lines)
        found[name] = found.get(name) or faults_of(name)
        if found[name]:
            kind = rng.choice(sorted({fault.kind for fault in found[name]}))
            fault = rng.choice([fault for fault in found[name] if fault.kind == kind])
            taken += [] if fault in taken else [fault]
    return sorted(taken, key=lambda fault: (fault.module, fault.line))


def named(place: str) -> list[Fault]:
    """All faults of a module, or of one of its functions, classes or constants (`module:name`)."""
    module, _, name = place.partition(":")
    return [fault for fault in faults_of(module) if not name or name in names_given(fault.statement)]
