"""Which tests run which line of the estimator, and how long each of them takes."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from coverage import CoverageData
from faults import ROOT, Fault, names_given, path_of


class TestsByLine:
    """Which tests run which lines, and how long they take."""

    def __init__(self, coverage: Path, times: Path, measured_in: Path) -> None:
        data = CoverageData(str(coverage))
        data.read()
        self._contexts = cache(data.contexts_by_lineno)
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
                    name = name_read(node)
                    if name and inside:
                        self.named[name].add((module, node.lineno))
                    elif name:
                        self.derived[name] |= set(names_given(statement))

    def that_run(self, fault: Fault) -> set[str]:
        """Those that run the lines of a fault, or for a constant the lines where it is named."""
        names = set(names_given(fault.statement))
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


def name_read(node: ast.AST) -> str | None:
    if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
        return node.id if isinstance(node, ast.Name) else node.attr
    return None


@cache
def far(module: str, test_file: Path) -> int:
    """0 for a test of the module, 1 for one of its room, 2 for others."""
    text = test_file.read_text(encoding="utf-8")
    return (
        0 if f"estimator.{module} import" in text else 2 - (f"estimator.{module.rpartition('.')[0]}." in text)
    )
