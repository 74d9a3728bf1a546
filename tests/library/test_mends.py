"""The mend of an error is data: every door words it in its own way, and nothing is read out of a sentence."""

from __future__ import annotations

import ast
import pickle
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from shlex import split
from typing import Any

import pytest

import estimator
from estimator.cli.group import build
from estimator.cli.named_files import as_option, decisions
from estimator.errors import InputError
from estimator.mends import Give, Note
from estimator.page.showing.decision_fields import as_sent, labelled
from estimator.page.showing.decisions import decisions_of

PACKAGE = Path(estimator.__file__).parent
TREES = {path.relative_to(PACKAGE): ast.parse(path.read_text()) for path in PACKAGE.rglob("*.py")}
READERS = {"match", "search", "fullmatch", "findall", "split", "sub", "startswith", "endswith", "partition"}
"""Functions that search in a text."""


def _outside_the_command_line() -> Iterator[tuple[Path, ast.Module]]:
    return ((path, tree) for path, tree in TREES.items() if path.parts[0] != "cli")


def _docstrings(tree: ast.Module) -> set[int]:
    """The ids of texts that are statements: docstrings of modules, functions and constants."""
    return {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}


def test_options_are_worded_by_the_command_line_alone() -> None:
    found = [
        (str(path), node.value)
        for path, tree in _outside_the_command_line()
        if path.name != "amounts.py"  # where the names of options stand
        for docstrings in [_docstrings(tree)]
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings
        if re.search(r"(?<!sha256sum )(?<!var\()(?<![\w-])--[a-z]", node.value)
    ]
    assert not found


def _looks_into_words(node: ast.AST, caught: set[str]) -> bool:
    """Whether a comparison or a search looks at the words of an error."""
    if isinstance(node, ast.Compare):
        parts: list[ast.expr] = [node.left, *node.comparators]
    elif (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in READERS
        and node.args  # `split()` alone takes line breaks out
    ):
        parts = [node.func.value, *node.args]
    else:
        return False
    if isinstance(node, ast.Compare) and all(
        isinstance(each, ast.Constant) and each.value is None for each in node.comparators
    ):
        return False
    return any(
        (isinstance(each, ast.Attribute) and each.attr in ("problem", "mend", "sentence", "verdict"))
        or (
            isinstance(each, ast.Call)
            and ast.unparse(each.func) == "str"
            and any(isinstance(one, ast.Name) and one.id in caught for one in each.args)
        )
        for each in parts
    )


def test_nothing_is_read_out_of_the_words_of_an_error() -> None:
    found = []
    for path, tree in TREES.items():
        caught = {n.name for n in ast.walk(tree) if isinstance(n, ast.ExceptHandler) and n.name}
        found += [(str(path), n.lineno) for n in ast.walk(tree) if _looks_into_words(n, caught)]  # type: ignore[attr-defined]
    assert not found


def test_the_search_for_readers_finds_one() -> None:
    planted = [
        "'kept' in str(error)",
        "error.problem == 'x'",
        "re.search('x', str(error))",
        "str(error).startswith('x')",
    ]
    for words in planted:
        assert any(_looks_into_words(node, {"error"}) for node in ast.walk(ast.parse(words))), words


def _given_in_the_source() -> list[Give]:
    """Everything that mends outside the command line ask for."""
    found = []
    for _, tree in _outside_the_command_line():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
                first = str(node.args[0].value)
                made = ast.unparse(node.func)
                if made == "Give":
                    found.append(Give(first, "1" if len(node.args) > 1 else None))
                elif made == "Give.column":
                    found.append(Give.column(first, "1"))
    return found


def test_what_mends_ask_for_is_an_option_and_a_field() -> None:
    import typer

    given = _given_in_the_source()
    assert len({each.name for each in given}) >= 9
    top = build()
    context = typer.Context(top)
    options = {
        option: {opt for param in command.params for opt in param.opts}
        for option in ("add", "page")
        if (command := top.get_command(context, option))
    }
    options["pack"] = {
        opt for param in top.get_command(context, "describe").commands["pack"].params for opt in param.opts
    }
    started_with = {"certificate", "key", "not_encrypted", "port"}
    for each in given:
        command = "page" if each.name in started_with else "pack" if each.name == "series" else "add"
        assert as_option(each).split()[0] in options[command], each
        if each.name not in started_with:
            assert labelled(each).strip("“”")


@pytest.mark.parametrize(
    "give",
    [Give("day_first", False), Give("reverse", True), Give("offset_s", -37.5), Give("interval_s", 0.5),
     Give.column("current", "Amps[mA]"), Give("sheet", "May 3")],
)  # fmt: skip
def test_each_door_takes_what_it_asks_for(give: Give) -> None:
    """An option or field, typed as the mend says, gives the importer what the library argument would."""
    name, value = (give.name, {give.quantity: give.value} if give.quantity else give.value)
    words = split(as_option(give))
    takes = {"--decide": 0, "--column": 1, "--interval-s": 2, "--gap-s": 3, "--sheet": 4}
    place = takes[words[0]]
    said: list[Any] = [None] * 5
    said[place] = [words[1]] if place < 2 else float(words[1]) if place < 4 else words[1]
    assert decisions(*said) == {name: value}
    field, _, text = as_sent(give).partition("=")
    assert decisions_of({field: text}) == {name: value}


def test_one_error_in_three_wordings() -> None:
    error = InputError("x", file="a.csv", mend=("say ", Give.column("current", "TITLE[mA]")))
    assert str(error) == "a.csv: x; say columns={'current': 'TITLE[mA]'}"
    assert error.said(as_option) == "a.csv: x; say --column current=TITLE[mA]"
    assert error.said(labelled) == "a.csv: x; say “Column of the current”"
    assert error.said(as_sent) == "a.csv: x; say column_current=TITLE[mA]"


def test_a_note_is_copied_with_its_mend() -> None:
    """Answers are sent from one process to another, and `asdict` copies what they hold."""
    note = Note("taken as day first", (Give("day_first", False), " overrules it"))
    for copy in (pickle.loads(pickle.dumps(note)), deepcopy(note)):
        assert (copy, copy.words, copy.mend) == (note, note.words, note.mend)
        assert copy.worded(as_option) == "taken as day first; --decide day_first=no overrules it."
