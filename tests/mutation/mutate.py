"""Mutation testing of the calculation modules: small faults are planted, and the module's tests must notice.

    nice python tests/mutation/mutate.py [--each 12] [--seed 1] [--factor-two] [fitting.charge_used ...]

A fault is one changed comparison, operator, number, truth value, branch or pair of opposite functions; with
`--factor-two` a number of a module's constants, doubled or halved. Of every module some are drawn at random.
Each is compiled into a forked process, whose import of that module finds the fault; the checkout is not
touched. A fault is noticed when a test of the module fails, or takes five times as long as without it.
Prints every fault that nobody noticed, and the score.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("fitting", "predictor", "conversion", "importer/cleaning", "importer/clock")
SLOW = {"answers", "cli", "logbook", "page", "report", "sample_logs", "worlds"}
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
WORKED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
OPPOSITE = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "floor": "ceil", "ceil": "floor",
    "any": "all", "all": "any", "argmin": "argmax", "argmax": "argmin", "exp": "log", "log": "exp",
}  # fmt: skip
LOADED_BEFORE = ("numpy", "pandas", "scipy.optimize", "scipy.stats", "scipy.signal", "statsmodels.api")


@dataclass(frozen=True)
class Fault:
    """One planted fault: where in the module, what stood there and what stands there now."""

    line: int
    before: str
    after: str
    tree: ast.Module


def faulty(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand wrongly in place of a node.

    >>> [ast.unparse(each) for each in faulty(ast.parse("a < 3", mode="eval").body)]
    ['a <= 3']
    """
    changed = copy.deepcopy(node)
    if isinstance(changed, ast.Compare) and len(changed.ops) == 1:
        changed.ops = [COMPARED[type(changed.ops[0])]()]
        yield changed
    elif isinstance(changed, ast.BinOp) and type(changed.op) in WORKED:
        changed.op = WORKED[type(changed.op)]()
        yield changed
    elif isinstance(changed, ast.BoolOp):
        changed.op = ast.Or() if isinstance(changed.op, ast.And) else ast.And()
        yield changed
    elif isinstance(changed, ast.UnaryOp) and isinstance(changed.op, ast.Not | ast.USub):
        yield changed.operand
    elif isinstance(changed, ast.IfExp):
        changed.body, changed.orelse = changed.orelse, changed.body
        yield changed
    elif isinstance(changed, ast.Constant):
        yield from _wrong_constants(changed)
    elif isinstance(changed, ast.Call) and isinstance(changed.func, ast.Name | ast.Attribute):
        name = changed.func.id if isinstance(changed.func, ast.Name) else changed.func.attr
        if name in OPPOSITE:
            setattr(changed.func, "id" if isinstance(changed.func, ast.Name) else "attr", OPPOSITE[name])
            yield changed


def _wrong_constants(node: ast.Constant) -> Iterator[ast.AST]:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield ast.Constant(node.value + 1)
    elif isinstance(node.value, float):
        yield ast.Constant(1.5 * node.value if node.value else 1.0)


PLUGINS = ("-p", "no:cacheprovider", "-p", "_hypothesis_pytestplugin")
UNTOUCHED = frozenset({"annotation", "returns", "decorator_list", "format_spec", "type_params"})


def faults_of(source: str) -> Iterator[Fault]:
    """Every fault that can be planted in a module; annotations, decorators and errors are left alone."""
    tree = ast.parse(source)
    places: list[tuple[ast.AST, str, int | None]] = []

    def visit(node: ast.AST) -> None:
        if isinstance(node, ast.Raise):
            return
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            return
        for field, value in ast.iter_fields(node):
            if field in UNTOUCHED:
                continue
            for index, child in enumerate(value) if isinstance(value, list) else ((None, value),):
                if isinstance(child, ast.AST):
                    places.append((node, field, index))
                    visit(child)

    visit(tree)
    for parent, field, index in places:
        child = getattr(parent, field) if index is None else getattr(parent, field)[index]
        for wrong in faulty(child):
            before, after = ast.unparse(child), ast.unparse(wrong)
            _put(parent, field, index, ast.copy_location(wrong, child))
            planted = ast.fix_missing_locations(copy.deepcopy(tree))
            _put(parent, field, index, child)
            yield Fault(child.lineno, before, after, planted)


def factor_two(source: str) -> Iterator[Fault]:
    """Every number of a module's constants, doubled and halved.

    >>> [(fault.before, fault.after) for fault in factor_two("SHARE, NAME = 0.5, 'x'")]
    [('0.5', '1.0'), ('0.5', '0.25')]
    """
    tree = ast.parse(source)
    for statement in tree.body:
        if not isinstance(statement, ast.Assign | ast.AnnAssign):
            continue
        for node in ast.walk(statement):
            if not isinstance(node, ast.Constant) or isinstance(node.value, bool):
                continue
            right = node.value
            if not isinstance(right, int | float):
                continue
            for wrong in (2 * right, right // 2 if isinstance(right, int) else right / 2):
                if wrong != right:
                    node.value = wrong
                    yield Fault(node.lineno, str(right), str(wrong), copy.deepcopy(tree))
                    node.value = right


def _put(parent: ast.AST, field: str, index: int | None, child: ast.AST) -> None:
    if index is None:
        setattr(parent, field, child)
    else:
        getattr(parent, field)[index] = child


class Planter(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the module with the fault to whoever imports it."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(self, name: str, path: object, target: object = None) -> ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def passes(module: str, tree: ast.Module, tests: Sequence[str], most_s: float) -> bool:
    """Whether the tests pass, within some seconds, in a process of their own that imports this tree."""
    child = os.fork()
    if child == 0:
        os.setpgrp()
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        name = f"estimator.{module}"
        sys.meta_path.insert(0, Planter(name, ROOT / f"{name.replace('.', '/')}.py", tree))
        try:
            importlib.import_module(name)
            import pytest

            failed = pytest.main(["-x", "-q", *PLUGINS, "--hypothesis-seed=1", *tests]) != 0
        except BaseException:
            failed = True
        os._exit(failed)
    ends = time.monotonic() + most_s
    while time.monotonic() < ends:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status == 0
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def modules() -> list[str]:
    """The calculation modules by their names within `estimator`."""
    files = (file for room in ROOMS for file in sorted((ROOT / "estimator" / room).rglob("*.py")))
    return [
        ".".join(file.relative_to(ROOT / "estimator").with_suffix("").parts)
        for file in files
        if file.name != "__init__.py"
    ]


def tests_of(module: str) -> list[str]:
    """The test files that import a module, or all of its room where none does."""
    room = ROOT / "tests" / Path(*module.split(".")[:-1])
    files = [file for file in sorted((ROOT / "tests").rglob("test_*.py")) if not SLOW & set(file.parts)]
    found = [file for file in files if f"estimator.{module} import" in file.read_text(encoding="utf-8")]
    found = found or list((room if room.exists() else room.parent).glob("test_*.py"))
    return [str(file) for file in found]


def try_module(module: str, each: int, seed: int, plant: Callable[[str], Iterator[Fault]]) -> tuple[int, int]:
    """How many faults were planted in a module and how many of them were noticed."""
    path = ROOT / "estimator" / f"{module.replace('.', '/')}.py"
    tests = [str(path), *tests_of(module)]
    source = path.read_text(encoding="utf-8")
    began = time.monotonic()
    assert passes(module, ast.parse(source), tests, 600), f"{module}: its tests fail without any fault"
    most_s = 5 * (time.monotonic() - began) + 10
    found = list(plant(source))
    drawn = sorted(random.Random(seed).sample(found, min(each, len(found))), key=lambda fault: fault.line)
    missed = [fault for fault in drawn if passes(module, fault.tree, tests, most_s)]
    print(f"{module}: {len(drawn) - len(missed)} of {len(drawn)} noticed ({len(found)} possible)", flush=True)
    for fault in missed:
        print(f"  line {fault.line}: {fault.before}  ->  {fault.after}", flush=True)
    return len(drawn), len(drawn) - len(missed)


def main() -> None:
    """Try the modules that are named, or all."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("modules", nargs="*", metavar="MODULE", help="such as conversion.care; none for all")
    asked.add_argument("--each", type=int, default=12, help="faults drawn of every module")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--factor-two", action="store_true", help="constants doubled and halved")
    wanted = asked.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    for name in LOADED_BEFORE:
        importlib.import_module(name)
    plant = factor_two if wanted.factor_two else faults_of
    counts = [try_module(module, wanted.each, wanted.seed, plant) for module in wanted.modules or modules()]
    planted, noticed = (sum(each) for each in zip(*counts, strict=True))
    print(f"{noticed} of {planted} faults noticed: {100 * noticed / planted:.0f} %")


if __name__ == "__main__":
    main()
