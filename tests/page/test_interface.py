"""The JSON interface: its answers, its errors, its description, and an attack on it by schemathesis."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from page_kit import BEARER, LONGEST_WAIT_S, RunningPage, running_page
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from estimator.amounts import AMOUNTS
from estimator.page.interface.openapi import FIELDS, openapi
from estimator.page.interface.operations import OPERATIONS, ROUTES

DESCRIPTION = openapi(OPERATIONS)
ATTACKED = schemathesis.openapi.from_dict(DESCRIPTION)
LOG = "time_s,current_a,voltage_v\n" + "".join(f"{k},{4 + k % 5},{53 - 0.004 * k:.2f}\n" for k in range(400))


@pytest.fixture
def script(orchard_page: RunningPage) -> Iterator[httpx.Client]:
    """A script with the secret."""
    with orchard_page.visitor(headers=BEARER) as client:
        yield client


@pytest.fixture(scope="module")
def one_mow_page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningPage]:
    """The page of a logbook with one lawn, one pack and one mow, all added through the interface."""
    folder = tmp_path_factory.mktemp("interface")
    with running_page(folder / "logbook.sqlite", folder) as page, page.visitor(headers=BEARER) as client:
        pack = {"name": "crate", "chemistry": "nmc", "series": 13, "capacity_ah": 10, "cut_off_v": 39}
        assert client.post("/api/packs", json=pack).json() == {"name": "crate"}
        assert client.post("/api/lawns", json={"name": "orchard", "area_m2": 420}).json() == {
            "name": "orchard"
        }
        kept = client.post(
            "/api/mows",
            data={"lawn": "orchard", "started": "2025-05-04T09:30", "moisture": "dry", "start_charge": "1"},
            files=[("files", ("may.csv", LOG.encode()))],
        )
        assert kept.status_code == 201, kept.text
        yield page


def test_a_kept_mow_answers_with_its_figures(one_mow_page: RunningPage) -> None:
    """399 s at a mean near 6 A are 0.66 Ah: the trapezoid over 4, 5, 6, 7, 8 A, repeated, by hand."""
    with one_mow_page.visitor(headers=BEARER) as client:
        assert client.get("/api/mows/1/charge").json()["used_ah"] == pytest.approx(6 * 399 / 3600, rel=0.02)
        story = client.get("/api/mows/1").json()
        assert story["record"]["lawn"] == "orchard"
        assert story["record"]["started"] == "2025-05-04T09:30:00"


def test_the_same_file_again_is_a_conflict(one_mow_page: RunningPage) -> None:
    with one_mow_page.visitor(headers=BEARER) as client:
        files = [("files", ("again.csv", LOG.encode()))]
        answer = client.post("/api/mows", data={"lawn": "orchard"}, files=files)
    assert answer.status_code == 409
    assert "mow 1" in answer.json()["error"]


def test_a_refused_file_answers_with_its_table(one_mow_page: RunningPage) -> None:
    text = "No,Current,Total Voltage,Cell1,Cell2,Cell3\n"
    text += "".join(f"{k},{900 + k % 7},1188,3959,3960,3961\n" for k in range(60))
    with one_mow_page.visitor(headers=BEARER) as client:
        files = [("files", ("odd.csv", text.encode()))]
        answer = client.post("/api/mows", data={"lawn": "orchard"}, files=files)
    assert answer.status_code == 422
    table = answer.json()["table"]
    assert answer.json()["error"].startswith("odd.csv, row 1: no column for time")
    assert table["read_with"] == [
        {"name": "columns", "value": "2[UNIT]", "quantity": "current"},
        {"name": "columns", "value": "3[UNIT]", "quantity": "voltage"},
        {"name": "interval_s", "value": "SECONDS", "quantity": ""},
    ]
    [sheet] = table["sheets"]
    assert sheet["columns"][1] == {
        "number": 2, "title": "Current", "values": ["900", "902", "903"], "taken_for": "current",
    }  # fmt: skip


def test_a_mow_by_hand(one_mow_page: RunningPage) -> None:
    with one_mow_page.visitor(headers=BEARER) as client:
        said = {"typical_a": 5, "highest_a": 11, "minutes": 22, "rest_before_v": 54, "lawn": "orchard"}
        answer = client.post("/api/mows/by-hand", json={**said, "started": "2025-05-11T10:00"})
        assert answer.status_code == 201, answer.text
        assert answer.json()["minutes"] == pytest.approx(22, abs=0.5)


def test_a_mow_is_split_and_lawns_are_merged_and_deleted(tmp_path: Path) -> None:
    """399 s cut at 3 min are two mows; the second lawn is merged into the first, a third one is deleted."""
    with running_page(tmp_path / "logbook.sqlite", tmp_path) as page, page.visitor(headers=BEARER) as client:
        for name in ("orchard", "verge", "bank"):
            client.post("/api/lawns", json={"name": name, "area_m2": 100})
        pack = {"name": "crate", "chemistry": "nmc", "series": 13, "capacity_ah": 10, "cut_off_v": 39}
        client.post("/api/packs", json=pack)
        form = {"lawn": "orchard", "started": "2025-05-04T09:30"}
        assert (
            client.post("/api/mows", data=form, files=[("files", ("may.csv", LOG.encode()))]).status_code
            == 201
        )
        second = client.post("/api/mows/1/split", json={"at": "3", "lawn": "verge"})
        assert second.status_code == 201, second.text
        assert (second.json()["lawn"], client.get("/api/mows").json()["count"]) == ("verge", 2)
        refused = client.post("/api/delete", json={"kind": "lawn", "name": "verge"})
        assert (refused.status_code, refused.json()["error"]) == (
            422, "lawn 'verge' is used by mow 2; merge it into another one, or edit that first",
        )  # fmt: skip
        merged = client.post("/api/merge", json={"kind": "lawn", "name": "verge", "into": "orchard"})
        assert merged.json() == {"name": "orchard"}
        assert client.post("/api/delete", json={"kind": "lawn", "name": "bank"}).json() == {"name": "bank"}
        assert [each["name"] for each in client.get("/api/list").json()["lawns"]] == ["orchard"]
        assert {each["lawn"] for each in client.get("/api/mows").json()["mows"]} == {"orchard"}


def test_minutes_left_of_a_log_so_far(one_mow_page: RunningPage) -> None:
    with one_mow_page.visitor(headers=BEARER) as client:
        files = [("files", ("so-far.csv", LOG.encode()))]
        answer = client.post("/api/minutes", data={"start_charge": "1"}, files=files)
        assert answer.status_code == 200, answer.text
        found = answer.json()
    assert found["low"] < found["minutes"] < found["high"]


@pytest.mark.parametrize(
    ("path", "status", "line"),
    [
        ("/api/mows/99999", 404, "mow 99999 is not in the logbook"),
        ("/api/mows/99999999999999999999", 404, "no such page"),
        ("/api/mows?lawn=moon", 422, "lawn 'moon' is not in the logbook"),
        ("/api/mows?page=0", 422, "whole number from 1"),
        ("/api/plan", 422, "no pack is named"),
        ("/api/plan?pack=green+crate&sure=95", 422, "give a share from 0.5 to 0.999, such as 0.95 for 95 %"),
        ("/api/plan?pack=green+crate&growth_mm=tall", 422, "growth is 'tall'; give a number"),
        ("/api/plan?pack=green+crate&order=random", 422, "choose given, lawns or area"),
        ("/api/compare", 422, "give tag or changed_on"),
        ("/api/compare?changed_on=june", 422, "write it as 2025-05-01 or 2025-05-01T09:30"),
        ("/api/nothing", 404, "there is no such page here"),
    ],
)
def test_troubles_are_one_line(script: httpx.Client, path: str, status: int, line: str) -> None:
    answer = script.get(path)
    assert answer.status_code == status
    assert line in answer.json()["error"]
    assert "\n" not in answer.json()["error"]


@pytest.mark.parametrize(
    ("body", "line"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b"[1]", "not an object"),
        (b'{"name": "x", "area_m2": [1]}', "neither text nor number"),
        (b'{"name": "x", "area_m2": true}', "neither text nor number"),
        (b'{"name": "x"}', "area is missing"),
        (b'{"name": "x", "area_m2": -1}', "area is -1 m²; give 0.01 to 10000000 m²"),
        (b'{"name": "x", "area_m2": 1e999}', "give a number"),
        (b'{"name": " ", "area_m2": 1}', "a lawn has no name"),
        (b'{"name": "' + b"x" * 101 + b'", "area_m2": 1}', "has 101 characters; use up to 100"),
        (b'{"name": "x", "area_m2": 1e300}', "give 0.01 to 10000000 m²"),
    ],
)
def test_bodies_that_cannot_be_taken(one_mow_page: RunningPage, body: bytes, line: str) -> None:
    with one_mow_page.visitor(headers=BEARER) as client:
        answer = client.post("/api/lawns", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422
    assert line in answer.json()["error"]


def test_the_secret_opens_nothing_for_other_sites(script: httpx.Client) -> None:
    answer = script.post("/api/lawns", json={}, headers={"origin": "http://evil.example"})
    assert answer.status_code == 403


def test_every_route_is_described_and_every_description_has_its_route() -> None:
    routed = {
        (method, route.path.replace(":int}", "}"))
        for route in ROUTES
        for method in route.methods or ()
        if method != "HEAD" and route.path != "/api/openapi.json"
    }
    described = {
        (method.upper(), path) for path, methods in DESCRIPTION["paths"].items() for method in methods
    }
    assert routed == described


def test_the_description_needs_no_secret_and_tells_none(reader: httpx.Client) -> None:
    answer = reader.get("/api/openapi.json")
    assert answer.json() == json.loads(json.dumps(DESCRIPTION))
    assert BEARER["authorization"].split()[1] not in answer.text


def test_every_answer_is_typed() -> None:
    for name, schema in DESCRIPTION["components"]["schemas"].items():
        assert schema, name
        assert all(schema["properties"].values()), name


def test_no_field_is_described_in_vain() -> None:
    assert {name for operation in OPERATIONS for name in operation.fields} - set(AMOUNTS) == set(FIELDS)


def no_figure_is_endless(value: Any) -> bool:
    """Whether a plain answer holds no infinite or undefined figure."""
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, dict):
        return all(no_figure_is_endless(each) for each in value.values())
    return all(no_figure_is_endless(each) for each in value) if isinstance(value, list) else True


def attack(case: Any, page: RunningPage) -> None:
    """Send one invented request and compare its answer with the description."""
    answer = case.call(base_url=page.address, headers=BEARER, timeout=LONGEST_WAIT_S)
    case.validate_response(
        answer,
        checks=[
            not_a_server_error,
            status_code_conformance,
            content_type_conformance,
            response_schema_conformance,
        ],
    )
    assert no_figure_is_endless(answer.json())


def attacking(max_examples: int) -> Any:
    """Settings of a bounded attack that is the same every time."""
    return settings(
        max_examples=max_examples,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
        derandomize=True,
    )


@pytest.mark.parametrize(
    "query",
    [
        {"lawn": ["orchard"], "sure": 0.9},
        {"lawn": ["moon"]},
        {"sure": 0.4},
        {"coldest_c": -41},
        {"sizes_ah": "x"},
    ],
)
def test_the_slowest_question_is_attacked_by_hand(query: dict[str, Any], one_mow_page: RunningPage) -> None:
    attack(ATTACKED["/api/capacity"]["GET"].Case(query=query), one_mow_page)


@ATTACKED.exclude(path="/api/capacity").parametrize()
@attacking(6)
def test_schemathesis_finds_no_server_error(case: Any, one_mow_page: RunningPage) -> None:
    attack(case, one_mow_page)


def test_an_answer_of_a_script_is_that_of_the_page(script: httpx.Client, reader: httpx.Client) -> None:
    count = script.get("/api/plan?pack=green+crate").json()["count"]
    assert (
        f'<p class="figure">{count} <span class="unit">of 3 lawns'
        in reader.get("/lawns?pack=green+crate").text
    )


def test_a_file_is_needed(script: httpx.Client, tmp_path: Path) -> None:
    for path in ("/api/mows", "/api/minutes"):
        answer = script.post(path, data={"lawn": "apple rows"}, files=[("other", ("", b""))])
        assert answer.status_code == 422
        assert "no file was sent" in answer.json()["error"]
