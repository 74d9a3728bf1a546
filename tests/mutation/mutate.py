"""Mutation testing of the calculation modules: small faults are planted, and a test must notice.

    pytest -vv --durations=0 --durations-min=0 --cov --cov-context=test > times.txt
    nice python tests/mutation/mutate.py [--count 100] [--seed 1] [--most 40] [conversion.care:wear ...]

The first command says which tests run which line, and how long each takes. The second plants faults one at a
time, some drawn at random over all lines or all of the modules and functions named, and runs the tests that
run the faulty line, quickest first, until one fails. Tests and modules are loaded once; each fault lives in a
forked process, where it takes the place of the function or the constant. The checkout is not touched. A test
that takes five times as long as without the fault has noticed it, too. Prints each fault, and the score.
"""

from __future__ import annotations

import argparse
import ast
import copy
import gc
import importlib
import inspect
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache, partial
from pathlib import Path
from types import FunctionType, ModuleType

import pytest
from coverage import CoverageData

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
}
EITHER_WAY = {"isinstance", "min", "max", "minimum", "maximum", "hypot", "getattr", "zip"}
LATE = "MISSED in time"
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
    """Every fault that can be planted in a module, but in annotations, decorators, errors and fields."""
    found: list[Fault] = []
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))

    def visit(node: ast.AST, statement: ast.stmt, lines: range) -> None:
        if isinstance(node, ast.Raise | ast.JoinedStr) or "TYPE_CHECKING" in ast.unparse(
            getattr(node, "test", node)
        ):
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
                    line, texts = (
                        getattr(child, "lineno", within.start),
                        (ast.unparse(child), ast.unparse(wrong)),
                    )
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


class Tests:
    """Which tests run which lines, and how long they take."""

    def __init__(self, coverage: Path, times: Path, measured_in: Path) -> None:
        self.data = CoverageData(str(coverage))
        self.data.read()
        self.measured_in = measured_in
        self.took_s: dict[str, float] = defaultdict(float)
        self.file_took_s: dict[str, float] = defaultdict(float)
        for seconds, name in re.findall(
            r"^(\d[\d.]*)s (?:setup|call) +(.+?) *$", times.read_text(), re.MULTILINE
        ):
            self.took_s[name] += float(seconds)
            self.file_took_s[name.partition("::")[0]] += float(seconds)
        self.named: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.derived: dict[str, set[str]] = defaultdict(set)
        for file in sorted((ROOT / "estimator").rglob("*.py")):
            module = ".".join(file.relative_to(ROOT / "estimator").with_suffix("").parts)
            for statement in ast.parse(file.read_text(encoding="utf-8")).body:
                inside = isinstance(statement, ast.FunctionDef | ast.ClassDef)
                for node in ast.walk(statement):
                    name = _name_read(node)
                    if name and inside:
                        self.named[name].add((module, node.lineno))
                    elif name:
                        self.derived[name] |= set(_names_given(statement))

    def that_run(self, fault: Fault) -> set[str]:
        """Those that run the lines of a fault, or for a constant the lines where it is named."""
        names = set(_names_given(fault.statement))
        found: set[str] = set()
        if isinstance(fault.statement, ast.FunctionDef | ast.ClassDef):
            found = self._running((fault.module, line) for line in fault.lines)
            if "cache" not in ast.unparse(fault.statement):
                return found
        while more := {each for name in names for each in self.derived[name]} - names:
            names |= more
        return found | self._running(place for name in names for place in self.named[name])

    def _running(self, places: Iterable[tuple[str, int]]) -> set[str]:
        found: set[str] = set()
        for module, line in places:
            file = self.measured_in / path_of(module).relative_to(ROOT)
            for context in self._contexts(str(file)).get(line, ()):
                name, _, phase = context.rpartition("|")
                if name:
                    found.add(name if phase == "run" else name.partition("::")[0])
        return found

    def _contexts(self, file: str, kept: dict[str, dict[int, list[str]]] = {}) -> dict[int, list[str]]:  # noqa: B006
        if file not in kept:
            kept[file] = self.data.contexts_by_lineno(file)
        return kept[file]


def _name_read(node: ast.AST) -> str | None:
    if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
        return node.id if isinstance(node, ast.Name) else node.attr
    return None


def _names_given(statement: ast.stmt) -> Iterator[str]:
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        yield statement.name
    else:
        yield from (
            node.id
            for node in ast.walk(statement)
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
        )


def plant(fault: Fault) -> None:
    """Put a fault in place of what is loaded: into a function, or for a constant wherever it went."""
    module = importlib.import_module(f"estimator.{fault.module}")
    planted = fault.plant()
    if isinstance(planted, ast.FunctionDef | ast.ClassDef):
        space = dict(vars(module))
        _run(planted, space)
        for right, wrong in zip(
            *map(_functions, (vars(module)[planted.name], space[planted.name])), strict=True
        ):
            right.__code__, right.__defaults__, right.__kwdefaults__ = (
                wrong.__code__, wrong.__defaults__, wrong.__kwdefaults__
            )  # fmt: skip
    else:
        _bind(module, planted)
    for loaded in [each for name, each in sys.modules.items() if name.startswith("estimator")]:
        for each in vars(loaded).values():
            if hasattr(each, "cache_clear"):
                each.cache_clear()


def _functions(owner: object) -> list[FunctionType]:
    """A function, or those of a class, without what is wrapped around them."""
    each = vars(owner).values() if isinstance(owner, type) else [owner]
    bare = (
        getattr(one, "fget", None) or getattr(one, "func", None) or getattr(one, "__func__", one)
        for one in each
    )
    return [one for one in map(inspect.unwrap, bare) if isinstance(one, FunctionType)]


def _run(statement: ast.stmt, space: dict[str, object]) -> None:
    future = importlib.import_module("__future__").annotations.compiler_flag
    exec(compile(ast.Module([statement], []), str(space["__file__"]), "exec", future), space)


def _bind(module: ModuleType, statement: ast.stmt) -> None:
    """Run an assignment anew, and all those that rest on it, in every module that has imported them."""
    old = {name: vars(module).get(name) for name in _names_given(statement)}
    _run(statement, vars(module))
    for name, loaded in list(sys.modules.items()):
        if not name.startswith(("estimator", "tests")) or not hasattr(loaded, "__file__"):
            continue
        here = {each for each, value in old.items() if loaded is module or vars(loaded).get(each) is value}
        for each in here:
            vars(loaded)[each] = vars(module)[each]
        if not name.startswith("estimator") or not loaded.__file__:
            continue
        tree = ast.parse(Path(loaded.__file__).read_text(encoding="utf-8"))
        for other in tree.body:
            later = loaded is not module or other.lineno > statement.lineno
            if later and isinstance(other, ast.Assign | ast.AnnAssign) and _reads(other, here):
                _bind(loaded, other)


def _reads(statement: ast.stmt, names: set[str]) -> bool:
    return any(_name_read(node) in names for node in ast.walk(statement))


@cache
def _far(module: str, test_file: Path) -> int:
    """0 for a test of the module, 1 for one of its room, 2 for others."""
    text = test_file.read_text(encoding="utf-8")
    return (
        0 if f"estimator.{module} import" in text else 2 - (f"estimator.{module.rpartition('.')[0]}." in text)
    )


class Planting:
    """What pytest does instead of running all tests once: those of each fault, in a process of its own."""

    def __init__(self, faults: list[Fault], tests: Tests, most_s: float) -> None:
        self.faults, self.tests, self.most_s, self.noticed = faults, tests, most_s, 0

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Plant all faults, one after the other."""
        gc.collect()
        gc.freeze()
        for fault in self.faults:
            began = time.monotonic()
            running = self.tests.that_run(fault) | {str(path_of(fault.module).relative_to(ROOT))}
            items = [
                each
                for each in session.items
                if {each.nodeid, each.nodeid.partition("::")[0]} & running
                or (each.nodeid not in self.tests.took_s and _far(fault.module, each.path) < 2)
            ]  # of tests newer than the measurement those that are near
            items.sort(
                key=lambda item: (_far(fault.module, item.path), self.tests.took_s.get(item.nodeid, 0.0))
            )
            by = self._first_to_fail(fault, items)
            self.noticed += by not in ("", LATE)
            took = f"{len(items)} tests, {time.monotonic() - began:.1f} s"
            said = (
                by or "MISSED",
                f"{fault.module}:{fault.line}",
                fault.kind,
                fault.before,
                fault.after,
                took,
            )
            print(" | ".join(said).replace("\n", " "), flush=True)
        return True

    def _first_to_fail(self, fault: Fault, items: list[pytest.Item]) -> str:
        """The test that notices a fault, or nothing."""
        reading, self.writing = os.pipe()
        with tempfile.TemporaryDirectory() as folder:
            child = os.fork()
            if child == 0:
                self._run(fault, items, folder)
            os.close(self.writing)
            with os.fdopen(reading) as said:
                name = said.read()
            _, status = os.waitpid(child, 0)
        return name or ("" if status == 0 else "crash")

    def _run(self, fault: Fault, items: list[pytest.Item], folder: str) -> None:
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        os.environ["PYTEST_DEBUG_TEMPROOT"] = folder
        ends = time.process_time() + self.most_s
        try:
            plant(fault)
            for item, after in zip(items, [*items[1:], None], strict=True):
                if time.process_time() > ends:
                    self._end(LATE)
                endless = f"without end: {item.nodeid}"
                signal.signal(signal.SIGPROF, lambda *_, endless=endless: self._end(endless))
                file_s = self.tests.file_took_s.get(item.nodeid.partition("::")[0], 0.0)
                signal.setitimer(signal.ITIMER_PROF, 5 * file_s + 10)
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        except BaseException as error:
            self._end(repr(error))
        os._exit(0)

    def _end(self, word: str) -> None:
        os.write(self.writing, word.encode())
        os._exit(0)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """The first test that fails is enough."""
        if report.failed:
            self._end(report.nodeid)


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
    return [fault for fault in faults_of(module) if not name or name in _names_given(fault.statement)]


def main() -> None:
    """Try a sample, or all faults of what is named."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument(
        "places", nargs="*", metavar="MODULE[:NAME]", help="such as conversion.care; none for a sample"
    )
    asked.add_argument("--count", type=int, default=100, help="faults drawn over all modules")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--most", type=float, default=40.0, help="seconds for one fault")
    asked.add_argument("--coverage", type=Path, default=ROOT / ".coverage")
    asked.add_argument("--times", type=Path, default=ROOT / "times.txt")
    asked.add_argument("--measured-in", type=Path, default=ROOT, help="the checkout that was measured")
    wanted = asked.parse_args()
    os.chdir(ROOT)
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    faults = [fault for place in wanted.places for fault in named(place)] or drawn(wanted.count, wanted.seed)
    planting = Planting(faults, Tests(wanted.coverage, wanted.times, wanted.measured_in), wanted.most)
    options = ["-q", "-s", "-p", "no:cacheprovider", "-p", "_hypothesis_pytestplugin", "--hypothesis-seed=1"]
    left_out = [f"--ignore=tests/{room}" for room in ("mutation", "benchmarks")]
    pytest.main([*options, *left_out], plugins=[planting])
    print(f"{planting.noticed} of {len(faults)} faults noticed: {100 * planting.noticed / len(faults):.0f} %")


if __name__ == "__main__":
    main()
