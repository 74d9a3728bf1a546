"""Hosts, origins, sizes, sessions, headers: what a request must pass."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from page_kit import BEARER, RunningPage, running_page, token_of

from estimator.page.door.guards import CONTENT_SECURITY


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example"])
def test_a_foreign_host_is_refused(reader: httpx.Client, host: str) -> None:
    answer = reader.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "not the page&#x27;s own" in answer.text


def test_its_own_names_are_answered(orchard_page: RunningPage, reader: httpx.Client) -> None:
    for host in ("127.0.0.1", "localhost", "LOCALHOST", "[::1]"):
        assert reader.get("/", headers={"host": f"{host}:{orchard_page.port}"}).status_code == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://127.0.0.1:8719", "http://127.0.0.1:1"]
)
def test_a_form_from_elsewhere_is_refused(writer: httpx.Client, origin: str) -> None:
    fields = {"form_token": token_of(writer), "name": "x", "area": "10"}
    answer = writer.post("/list/lawn", data=fields, headers={"origin": origin})
    assert answer.status_code == 403
    assert "another site" in answer.text


def test_a_cross_site_request_without_origin_is_refused(writer: httpx.Client) -> None:
    fields = {"form_token": token_of(writer), "name": "x", "area": "10"}
    answer = writer.post("/list/lawn", data=fields, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403


def test_a_form_without_its_token_is_refused(writer: httpx.Client) -> None:
    token_of(writer)
    for token in ("", "0" * 64):
        answer = writer.post("/list/lawn", data={"form_token": token, "name": "x", "area": "10"})
        assert answer.status_code == 403
        assert "open the page again" in answer.text


def test_the_token_of_another_visitor_is_refused(empty_page: RunningPage) -> None:
    with empty_page.visitor() as mine, empty_page.visitor() as other:
        token_of(mine)
        answer = mine.post("/list/lawn", data={"form_token": token_of(other), "name": "x", "area": "10"})
        assert answer.status_code == 403


def test_every_answer_has_the_security_headers(reader: httpx.Client) -> None:
    for path in ("/", "/add", "/nope", "/api/openapi.json", "/api/mows", "/logbook/mows.csv"):
        headers = reader.get(path).headers
        assert headers["content-security-policy"] == CONTENT_SECURITY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"


def test_the_policy_allows_nothing_inline_and_nothing_foreign() -> None:
    assert "unsafe" not in CONTENT_SECURITY
    assert "http" not in CONTENT_SECURITY
    assert "default-src 'none'" in CONTENT_SECURITY


def test_refusals_carry_the_headers_too(reader: httpx.Client) -> None:
    assert reader.get("/", headers={"host": "evil.example"}).headers["x-frame-options"] == "DENY"


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(reader: httpx.Client) -> None:
    cookie = reader.get("/").headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.fixture
def paired_page(orchard_file: Path, tmp_path: Path) -> Iterator[RunningPage]:
    """The page as it is when other computers can reach it."""
    with running_page(orchard_file, tmp_path, pairing=True) as page:
        yield page


def test_pages_are_closed_to_the_unpaired(paired_page: RunningPage) -> None:
    with paired_page.visitor() as stranger:
        for path in ("/", "/mows", "/mows/1", "/logbook/backup", "/devices", "/seasons/report"):
            answer = stranger.get(path)
            assert answer.status_code == 401
            assert "not paired" in answer.text
            assert "apple rows" not in answer.text
        assert stranger.post("/list/lawn", data={"name": "x"}).status_code == 401
        style = stranger.get("/pair").text.split('rel="stylesheet" href="')[1].split('"')[0]
        assert stranger.get(style).status_code == 200


def test_a_pairing_link_lets_one_device_in(paired_page: RunningPage) -> None:
    code = paired_page.doors.new_code()
    with paired_page.visitor() as phone:
        assert phone.get(f"/pair?code={code}").status_code == 200
        refused = phone.get("/")
        assert refused.status_code == 401, "looking at the link must not pair"
        style = re.search(r'<link rel="stylesheet" href="([^"]+)">', refused.text)
        assert style and phone.get(style[1]).status_code == 200, "a refusal looks like a page of ours"
        assert "make one on a paired device" in refused.text, "it says where the next link comes from"
        assert "paired now" in phone.post("/pair", data={"code": code}).text
        assert phone.get("/").status_code == 200
    with paired_page.visitor() as other:
        again = other.post("/pair", data={"code": code})
        assert again.status_code == 403
        assert "used already" in again.text
        assert other.get("/").status_code == 401


def test_a_paired_device_can_make_a_link_and_end_every_session(paired_page: RunningPage) -> None:
    with paired_page.visitor() as desk, paired_page.visitor() as phone:
        desk.post("/pair", data={"code": paired_page.doors.new_code()})
        made = desk.post("/devices/link", data={"form_token": token_of(desk, "/devices")})
        assert "Pairing link as a QR code" in made.text
        code = made.text.split("/pair?code=")[1].split("<")[0]
        assert phone.post("/pair", data={"code": code}).status_code == 200
        desk.post("/devices/close", data={"form_token": token_of(desk, "/devices")})
        assert desk.get("/").status_code == 401
        assert phone.get("/").status_code == 401


def test_one_device_is_revoked_and_its_cookie_has_an_age(paired_page: RunningPage) -> None:
    with paired_page.visitor() as desk, paired_page.visitor() as phone:
        desk.post("/pair", data={"code": paired_page.doors.new_code(), "name": "desk"})
        phone.post("/pair", data={"code": paired_page.doors.new_code(), "name": "mower phone"})
        renewed = phone.get("/more").headers["set-cookie"].lower()
        assert f"max-age={400 * 24 * 3600}" in renewed
        assert "httponly" in renewed and "samesite=strict" in renewed
        listed = desk.get("/devices").text
        assert "<strong>mower phone</strong>" in listed
        assert "<strong>desk</strong>, this device" in listed
        key = next(each.key for each in paired_page.doors.devices.listed() if each.name == "mower phone")
        revoked = desk.post("/devices/revoke", data={"form_token": token_of(desk, "/devices"), "device": key})
        assert "no longer let in" in revoked.text
        assert phone.get("/").status_code == 401
        assert desk.get("/").status_code == 200


def test_the_session_is_no_bearer_and_the_bearer_no_session(paired_page: RunningPage) -> None:
    with paired_page.visitor() as visitor:
        assert visitor.get("/", headers=BEARER).status_code == 401
        visitor.post("/pair", data={"code": paired_page.doors.new_code()})
        assert visitor.get("/api/mows").status_code == 401
        assert visitor.get("/api/mows", headers=BEARER).status_code == 200


def test_the_interface_asks_for_its_secret_on_this_machine_too(reader: httpx.Client) -> None:
    answer = reader.get("/api/mows")
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"
    assert "secret" in answer.json()["error"]


def test_a_visitor_never_sees_a_stack_trace(reader: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a detail of the inside")

    monkeypatch.setattr("estimator.page.screens.kept_mows.all_mows", broken)
    monkeypatch.setattr("estimator.page.interface.operations.mows", broken)
    for path in ("/mows", "/api/mows"):
        answer = reader.get(path, headers=BEARER)
        assert answer.status_code == 500
        assert "something went wrong inside" in answer.text.lower()
        for word in ("Traceback", "ZeroDivision", "detail of the inside", "estimator/"):
            assert word not in answer.text


def test_after_a_fault_the_same_connection_answers_on(
    orchard_page: RunningPage, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a detail of the inside")

    monkeypatch.setattr("estimator.page.screens.kept_mows.all_mows", broken)
    ports = set()
    with orchard_page.visitor() as visitor:
        for _ in range(20):
            with visitor.stream("GET", "/mows") as answer:
                answer.read()
                ports.add(answer.extensions["network_stream"].get_extra_info("client_addr"))
            assert answer.status_code == 500
            assert answer.headers["content-security-policy"] == CONTENT_SECURITY
    assert len(ports) == 1
    told = [record for record in caplog.records if record.getMessage() == "GET /mows went wrong"]
    assert len(told) == 20
    assert told[0].exc_info is not None and told[0].exc_info[0] is ZeroDivisionError


def test_a_form_that_is_too_large_is_refused(writer: httpx.Client) -> None:
    answer = writer.post("/list/lawn", data={"name": "x" * 400_000})
    assert answer.status_code == 413
    assert "0.25 MB" in answer.text
