"""The notebooks run from first cell to last, quickly, without warnings, and are kept without output."""

from __future__ import annotations

import re
import resource
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
NAMES = ("first_mow", "choosing_a_pack", "two_seasons")
LONGEST_S = 60
"""Most processor time of a notebook [s]; what else the machine does meanwhile does not count."""


def read(name: str) -> nbformat.NotebookNode:
    return nbformat.read(NOTEBOOKS / f"{name}.ipynb", as_version=4)


def test_these_are_all() -> None:
    assert sorted(path.stem for path in NOTEBOOKS.glob("*.ipynb")) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_kept_without_output(name: str) -> None:
    for cell in read(name).cells:
        if cell.cell_type == "code":
            assert cell.outputs == [] and cell.execution_count is None


@pytest.mark.parametrize("name", NAMES)
def test_says_that_it_is_invented_and_what_can_hurt(name: str) -> None:
    words = " ".join(cell.source for cell in read(name).cells if cell.cell_type == "markdown")
    assert re.search(r"invented|made up", words)
    assert "before you touch the blades" in " ".join(words.split()) or "lithium pack can hurt" in words


@pytest.mark.parametrize("name", NAMES)
def test_every_title_asks_and_answers(name: str) -> None:
    code = "\n".join(cell.source for cell in read(name).cells if cell.cell_type == "code")
    drawn = len(re.findall(r"plt\.subplots\(", code))
    titles = re.findall(r"set_title\(\s*f\"([^\"]*)", code)
    assert len(titles) == drawn >= 3
    for title in titles:
        question, _, answer = title.partition("?")
        assert question and "{" in answer, "the answer in a title is computed, not typed"


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_runs_to_its_end(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MPLBACKEND", "module://matplotlib_inline.backend_inline")
    notebook = read(name)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    where = {"metadata": {"path": str(NOTEBOOKS)}}
    for more_tries in (2, 1, 0):
        client = NotebookClient(
            notebook, timeout=900, startup_timeout=300, kernel_name="python3", resources=where
        )
        try:
            client.execute()
            break
        except RuntimeError:  # no cell failed: the kernel did not start, perhaps because its port was taken
            if not more_tries:
                raise
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    assert 0 < took_s < LONGEST_S
    outputs = [out for cell in notebook.cells if cell.cell_type == "code" for out in cell.outputs]
    assert [out.text for out in outputs if out.get("name") == "stderr"] == [], "warnings are printed there"
    assert sum("image/png" in out.get("data", {}) for out in outputs) >= 3
