"""The page where two machines are described and none is named."""

from __future__ import annotations

from pathlib import Path

from page_kit import running_page

from estimator.descriptions import Machine
from estimator.logbook import keep_machine, open_logbook


def test_lawns_are_planned_with_the_machine_of_the_latest_mow(orchard_copy: Path, tmp_path: Path) -> None:
    with open_logbook(orchard_copy) as book:
        keep_machine(book, Machine("rider"))
    with running_page(orchard_copy, tmp_path) as page, page.visitor() as visitor:
        shown = visitor.get("/lawns?pack=green+crate")
        assert shown.status_code == 200
        assert "With cylinder mower, the machine of the latest mow." in shown.text
        assert '<select id="machine" name="machine"' in visitor.get("/conversion/motor").text
        assert visitor.get("/conversion/motor?machine=cylinder+mower").status_code == 200
