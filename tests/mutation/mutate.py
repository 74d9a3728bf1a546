"""Mutation testing of the calculation modules: small faults are planted, and a test must notice.

    pytest -vv --durations=0 --durations-min=0 --cov --cov-context=test > times.txt
    nice python tests/mutation/mutate.py [--count 100] [--seed 1] [--most 40] [conversion.care:wear ...]

The first command says which tests run which line, and how long each takes. The second plants faults one at a
time, some drawn at random over all lines or all of the modules and functions named, and runs the tests that
run the faulty line, quickest first, until one fails. Tests and modules are loaded once; each fault lives in a
forked process, where it takes the place of the function or the constant. The checkout is not touched. A test
that takes five times as long as without the fault has noticed it, too. Prints each fault, and the score. Each
run begins with some statements planted as they stand: a test that notices one ends it.
"""

from __future__ import annotations

import argparse
import ast
import copy
import gc
import importlib
import inspect
import os
import signal
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from types import FunctionType, ModuleType

import pytest
from faults import ROOT, Fault, drawn, named, names_given, path_of
from tests_by_line import TestsByLine, far, name_read

LATE = "MISSED in time"
UNCHANGED = "unchanged"
CONTROLS = 3
"""Statements planted as they stand, before the faults of each run."""
TIMERS = ((signal.ITIMER_PROF, signal.SIGPROF, 1), (signal.ITIMER_REAL, signal.SIGALRM, 10))
"""Processor time, and ten times as long on the clock for what waits: a busy machine is slow, not wrong."""


def unchanged(fault: Fault) -> Fault:
    """A statement planted as it stands."""
    return replace(fault, kind=UNCHANGED, after=fault.before, plant=lambda: copy.deepcopy(fault.statement))


def plant(fault: Fault, tests: list[pytest.Item]) -> None:
    """Put a fault in place of what is loaded: into a function, or for a constant wherever it went."""
    module = importlib.import_module(f"estimator.{fault.module}")
    planted = fault.plant()
    if isinstance(planted, ast.FunctionDef | ast.ClassDef):
        space = dict(vars(module))
        _run(planted, space)
        owners = vars(module)[planted.name], space[planted.name]
        for right, wrong in zip(*map(_functions, owners), strict=True):
            right.__code__, right.__defaults__, right.__kwdefaults__ = (
                wrong.__code__, wrong.__defaults__, wrong.__kwdefaults__
            )  # fmt: skip
    else:
        right = {id(vars(module)[name]): name for name in names_given(planted)}
        _bind(module, planted)
        for params in (test.callspec.params for test in tests if hasattr(test, "callspec")):
            params |= {
                each: vars(module)[right[id(value)]]
                for each, value in params.items()
                if id(value) in right and not isinstance(value, int | str)  # which may be another's
            }
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
    """Run an assignment anew, and those that rest on it, wherever a module or a test has imported them."""
    old = {name: vars(module).get(name) for name in names_given(statement)}
    _run(statement, vars(module))
    for loaded in list(sys.modules.values()):
        here = {
            each for each, value in old.items() if loaded is module or vars(loaded).get(each, old) is value
        }
        file = getattr(loaded, "__file__", None)
        if not here or not file or ROOT not in Path(file).parents:
            continue
        for each in here:
            vars(loaded)[each] = vars(module)[each]
        tree = ast.parse(Path(file).read_text(encoding="utf-8"))
        for other in tree.body:
            later = loaded is not module or other.lineno > statement.lineno
            if later and isinstance(other, ast.Assign | ast.AnnAssign) and _reads(other, here):
                _bind(loaded, other)


def _imports(item: pytest.Item, fault: Fault) -> bool:
    """Whether a test file has imported the constant that a fault changes: it may pin the value itself."""
    if isinstance(fault.statement, ast.FunctionDef | ast.ClassDef):
        return False
    there, here = vars(sys.modules[f"estimator.{fault.module}"]), vars(getattr(item, "module", item))
    return any(name in here and here[name] is there[name] for name in names_given(fault.statement))


def _reads(statement: ast.stmt, names: set[str]) -> bool:
    return any(name_read(node) in names for node in ast.walk(statement))


class Planting:
    """What pytest does instead of running all tests once: those of each fault, in a process of its own."""

    def __init__(self, faults: list[Fault], tests: TestsByLine, most_s: float) -> None:
        self.faults, self.tests, self.most_s, self.noticed = faults, tests, most_s, 0

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Plant all faults, one after the other, and first a few statements as they stand."""
        gc.collect()
        gc.freeze()
        for fault in [*map(unchanged, self.faults[:: len(self.faults) // CONTROLS + 1]), *self.faults]:
            began = time.monotonic()
            running = self.tests.that_run(fault) | {str(path_of(fault.module).relative_to(ROOT))}
            items = [
                each
                for each in session.items
                if {each.nodeid, each.nodeid.partition("::")[0]} & running
                or _imports(each, fault)
                or (each.nodeid not in self.tests.took_s and far(fault.module, each.path) < 2)
            ]  # of tests newer than the measurement those that are near
            took_s = self.tests.took_s
            items.sort(key=lambda item: took_s.get(item.nodeid, 0.0) + 0.3 * far(fault.module, item.path))
            by = self._first_to_fail(fault, items)
            self.noticed += by not in ("", LATE)
            if self.noticed and fault.kind == UNCHANGED:
                raise pytest.UsageError(f"{by} notices {fault.module}:{fault.line} as it stands")
            took = f"{len(items)} tests, {time.monotonic() - began:.1f} s"
            where = f"{fault.module}:{fault.line}"
            said = " | ".join((by or "MISSED", where, fault.kind, fault.before, fault.after, took))
            print(said.replace("\n", " "), flush=True)
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
            plant(fault, items)
            for item, after in zip(items, [*items[1:], None], strict=True):
                if time.process_time() > ends:
                    self._end(LATE)
                word = f"without end: {item.nodeid}"
                most_s = 5 * self.tests.file_took_s.get(item.nodeid.partition("::")[0], 0.0) + 10
                for timer, alarm, times in TIMERS:
                    signal.signal(alarm, lambda *_, word=word: self._end(word))
                    signal.setitimer(timer, times * most_s)
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
    planting = Planting(faults, TestsByLine(wanted.coverage, wanted.times, wanted.measured_in), wanted.most)
    options = ["-q", "-s", "-p", "no:cacheprovider", "-p", "_hypothesis_pytestplugin", "--hypothesis-seed=1"]
    left_out = [f"--ignore=tests/{room}" for room in ("mutation", "benchmarks")]
    pytest.main([*options, *left_out], plugins=[planting])
    print(f"{planting.noticed} of {len(faults)} faults noticed: {100 * planting.noticed / len(faults):.0f} %")


if __name__ == "__main__":
    main()
