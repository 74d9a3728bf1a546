"""The README is executed: its commands print what it shows, its Python runs, the check runs its commands."""

from __future__ import annotations

import doctest
import importlib.util
import re
import sys
from pathlib import Path

import pytest

from estimator.cli.command_table import COMMANDS

_spec = importlib.util.spec_from_file_location(
    "readme_commands", Path(__file__).with_name("readme_commands.py")
)
assert _spec and _spec.loader
readme_commands = importlib.util.module_from_spec(_spec)
sys.modules["readme_commands"] = readme_commands
_spec.loader.exec_module(readme_commands)

TEXT = readme_commands.README.read_text(encoding="utf-8")


def without_numbers(text: str) -> str:
    """Figures may differ in their last digit from one numpy to the next; words may not."""
    return re.sub(r"[#\s]+", " ", re.sub(r"(over|under|about)?\s*[-+−]?\d[\d.,:]*", "#", text))


def test_every_command_prints_what_the_readme_shows(tmp_path: Path) -> None:
    shown = [one for block in readme_commands.shown_commands(TEXT) for one in block]
    assert len(shown) > 15
    printed = readme_commands.run_in_turn([one.command for one in shown], tmp_path)
    for one, now in zip(shown, printed, strict=True):
        assert "Traceback" not in now, one.command
        assert without_numbers(now) == without_numbers(one.output), one.command
    assert (tmp_path / "seasons.png").stat().st_size > 10_000


def test_its_python_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(readme_commands.ROOT)
    examples = doctest.DocTestParser().get_doctest(TEXT, {}, "README.md", "README.md", 0)
    assert len(examples.examples) > 8
    result = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(examples)
    assert result.failed == 0


def test_the_job_and_the_two_commands_stand_at_the_top() -> None:
    top, rest = TEXT.split("## The first ten minutes")
    assert len(top) < len(rest) / 3
    assert TEXT.startswith("# mowcharge\n")
    assert "mowcharge demo" in top and "pytest" in top
    check = (readme_commands.ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for mark in ("demo", "tests"):
        assert f"<!-- {mark} -->" in top
        assert f"readme_command {mark}" in check


def test_every_command_is_named() -> None:
    left_out = [name for name in COMMANDS if not re.search(rf"(mowcharge |`){name}\b", TEXT)]
    assert left_out == []


def test_links_of_the_contents_lead_somewhere() -> None:
    headings = {
        re.sub(r"[^\w\- ]", "", h).strip().lower().replace(" ", "-")
        for h in re.findall(r"^## (.+)$", TEXT, re.M)
    }
    for link in re.findall(r"\]\(#([^)]+)\)", TEXT):
        assert link in headings
