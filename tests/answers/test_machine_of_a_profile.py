"""Which machine's width, pace and edges count in what a lawn is expected to take."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.answers.figures.load_profile import profile_of
from estimator.descriptions import Machine
from estimator.logbook import keep_machine, open_logbook


@pytest.mark.parametrize(("machines", "meant"), [("", None), ("a", "flail"), ("ab", None)])
def test_where_none_is_named_the_only_machine_is_meant(
    tmp_path: Path, machines: str, meant: str | None
) -> None:
    """Of two nobody can say which: what is believed of any machine stands."""
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        for name in machines:
            keep_machine(book, Machine(name, kind="flail"))
        assert profile_of(book).machine.kind == meant
        assert all(profile_of(book, name).machine.name == name for name in machines)
