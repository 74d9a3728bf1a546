"""What a plan of lawns says it is about: machine, charge and lawns."""

from __future__ import annotations

import re
from pathlib import Path

import httpx
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


def test_lawns_say_what_charge_and_which_lawns_they_are_about(reader: httpx.Client) -> None:
    full = reader.get("/lawns?pack=green+crate").text
    assert "On one charge of green crate" in full and "No lawn was ticked" not in full
    part = reader.get("/lawns?pack=green+crate&start_charge=76&sure=95").text
    assert "On one charge" not in part and "No lawn was ticked: all are planned." in part
    head = re.search(r'id="answer-head"[^>]*>([^<]*)', part)
    assert head and "".join(head[1].split()) == "Onwhatisleftingreencrate,76%"
    ticked = reader.get("/lawns?pack=green+crate&lawn=apple+rows&sure=95").text
    assert "No lawn was ticked" not in ticked
