"""A mow that runs: nothing posted is lost or counted twice, and everybody sees its present state."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_kit import BEARER, LONGEST_WAIT_S, RunningPage, running_page, token_of

from estimator.descriptions import Lawn, Pack
from estimator.errors import InputError
from estimator.logbook import keep_lawn, keep_pack, open_logbook
from estimator.page.live.posted import keep_readings, newest, posted_files
from estimator.page.live.watch import Now, Said, Watch
from estimator.page.settings import PageSettings

BEGAN = datetime(2025, 5, 3, 9, 20)


def _lines(first: int, count: int) -> str:
    return "\n".join(f"{k},{4 + k % 5},{53 - 0.002 * k:.3f}" for k in range(first, first + count))


def _post(client: httpx.Client, first: int, count: int, mow: str = "shed logger 1") -> httpx.Response:
    body = {"mow": mow, "first": first, "readings": _lines(first, count)}
    return client.post("/api/live", json=body, headers=BEARER)


@given(cuts=st.lists(st.integers(1, 40), min_size=1, max_size=12), again=st.data())
def test_every_reading_is_kept_once_however_posts_are_repeated(
    cuts: list[int], again: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A post may come twice, from further back, or with a hole before it; what is kept is the same."""
    folder = tmp_path_factory.mktemp("posted")
    kept = 0
    for count in cuts:
        back = again.draw(st.integers(0, kept))
        assert keep_readings(folder, "a", kept + 3, _lines(kept + 3, 2), BEGAN).kept == kept, "a hole"
        kept = keep_readings(folder, "a", kept - back, _lines(kept - back, back + count), BEGAN).kept
        assert keep_readings(folder, "a", 0, _lines(0, kept), BEGAN).kept == kept
    path = newest(folder)
    assert path is not None
    title, *rows = path.read_text().splitlines()
    assert title == "time,current_a,voltage_v"
    assert len(rows) == kept == sum(cuts)
    seconds = [(datetime.fromisoformat(row.split(",")[0]) - BEGAN).total_seconds() for row in rows]
    assert seconds == list(range(kept))


def test_half_a_line_left_by_a_fall_of_the_current_is_sent_again(tmp_path: Path) -> None:
    keep_readings(tmp_path, "a", 0, _lines(0, 5), BEGAN)
    path = newest(tmp_path)
    assert path is not None
    path.write_bytes(path.read_bytes()[:-7])
    assert keep_readings(tmp_path, "a", 9, _lines(9, 1), BEGAN).kept == 4, "the answer says from where"
    assert keep_readings(tmp_path, "a", 4, _lines(4, 3), BEGAN).kept == 7
    assert len(path.read_text().splitlines()) == 8


@pytest.mark.parametrize(
    ("lines", "line"),
    [
        ("0,4.1", "reading 0 is '0,4.1'; write it as 12.5,4.1,52.3"),
        ("0,4.1,fifty", "write it as 12.5,4.1,52.3"),
        ("0,nan,52", "write it as 12.5,4.1,52.3"),
        ("0,1e9,52", "send seconds, amps and volts"),
        ("5,4,52\n5,4,52", "reading 1 is of 5 s, the one before of 5 s; send them in the order of time"),
        ("5,4,52\n6,4,52,20", "reading 1 has 4 numbers; send 3 each"),
    ],
)
def test_what_is_no_reading_is_refused_in_one_line(tmp_path: Path, lines: str, line: str) -> None:
    with pytest.raises(InputError) as refused:
        keep_readings(tmp_path, "a", 0, lines, BEGAN)
    assert line in str(refused.value)


def test_mows_that_wait_are_bounded_and_none_of_length_is_dropped(tmp_path: Path) -> None:
    for number in range(20):
        keep_readings(tmp_path, f"mow {number}", 0, _lines(0, 40), BEGAN)
    with pytest.raises(InputError, match="20 posted mows wait; keep or throw away some of them first"):
        keep_readings(tmp_path, "one more", 0, _lines(0, 40), BEGAN)
    posted_files(tmp_path)[0].unlink()
    keep_readings(tmp_path, "one more", 0, _lines(0, 3), BEGAN)
    assert len(posted_files(tmp_path)) == 20


@pytest.fixture
def live_page(orchard_copy: Path, tmp_path: Path) -> Iterator[RunningPage]:
    """A page to which a logger may post."""
    with running_page(orchard_copy, tmp_path) as page:
        yield page


def _events(page: RunningPage, count: int, last: str = "") -> list[tuple[str, str]]:
    """The next `count` events of the stream as (id, data), from a connection that is then closed."""
    found: list[tuple[str, str]] = []
    with (
        page.visitor() as visitor,
        visitor.stream("GET", "/live/events", headers={"last-event-id": last}) as got,
    ):
        number, data = "", []
        for line in got.iter_lines():
            if line.startswith("id: "):
                number, data = line[4:], []
            elif line.startswith("data: "):
                data.append(line[6:])
            elif not line and data:
                found.append((number, "\n".join(data)))
                data = []
                if len(found) == count:
                    return found
    return found


def _form(visitor: httpx.Client, **changed: str) -> dict[str, str]:
    """The form of what is known of the mow, as the page fills it in, with some fields changed."""
    shown = visitor.get("/live").text
    form = shown.partition('action="/live/say"')[2].partition("</form>")[0]
    given = dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', form))
    for name, options in re.findall(r'<select id="\w+" name="(\w+)">(.*?)</select>', form, re.S):
        values = re.findall(r'<option value="([^"]*)"( selected)?', options)
        given[name] = next((value for value, chosen in values if chosen), values[0][0])
    return {**given, **changed}


def _say(visitor: httpx.Client, **changed: str) -> httpx.Response:
    return visitor.post("/live/say", data=_form(visitor, **changed))


def _shown(visitor: httpx.Client, *words: str) -> str:
    """The live page as soon as it shows these words."""
    deadline = time.monotonic() + LONGEST_WAIT_S
    while any(each not in (text := visitor.get("/live").text.replace("\u00a0", " ")) for each in words):
        assert time.monotonic() < deadline, text
        time.sleep(0.1)
    return text


@pytest.fixture
def new_page(tmp_path: Path) -> Iterator[RunningPage]:
    """The page of a logbook without mows, whose first pack by name is not the one that is mown with."""
    with open_logbook(tmp_path / "new.sqlite") as book:
        keep_pack(book, Pack("nmc", 13, 20.0, 40.0, name="green crate"))
        keep_pack(book, Pack("nmc", 10, 30.0, 30.0, name="a first box"))
        keep_lawn(book, Lawn("apple rows", area_m2=420.0))
    with running_page(tmp_path / "new.sqlite", tmp_path) as page:
        yield page


def test_the_form_gives_the_pack_that_the_answer_rests_on(new_page: RunningPage) -> None:
    """Whether it was opened before the first answer or after, only the lawn changes the lawn only."""
    with new_page.visitor() as visitor:
        _post(visitor, 0, 1)
        early = _form(visitor, lawn="apple rows")
        assert early["pack"] == ""
        _post(visitor, 1, 399)
        _shown(visitor, "Until green crate stops")
        assert _form(visitor)["pack"] == "green crate"
        assert visitor.post("/live/say", data=early).status_code == 200
        _shown(visitor, "Until green crate stops", "<strong>apple rows</strong>")


def test_a_pack_that_the_readings_cannot_come_from_leaves_the_mow_as_it_is(new_page: RunningPage) -> None:
    with new_page.visitor() as visitor:
        _post(visitor, 0, 400)
        _shown(visitor, "Until green crate stops")
        before = _form(visitor)
        refused = _say(visitor, pack="a first box")
        assert refused.status_code == 422
        line = r"[Vv]olts of 52.2 to 53.0 are not those of a first box \(10 nmc [^;]*; name another pack\.<"
        assert re.search(line, refused.text.replace("\u00a0", " ")), refused.text
        assert _form(visitor) == before
        _post(visitor, 400, 50)
        _shown(visitor, "Until green crate stops", "450 readings")


def test_readings_of_no_pack_are_told_without_the_name_of_their_file(live_page: RunningPage) -> None:
    with live_page.visitor() as visitor:
        lines = "\n".join(f"{k},4,{80 - 0.002 * k:.3f}" for k in range(60))
        visitor.post("/api/live", json={"mow": "a", "first": 0, "readings": lines}, headers=BEARER)
        (path,) = posted_files(live_page.app.state.watch.folder)
        text = _shown(visitor, 'class="trouble"')
        trouble = text.partition('class="trouble"')[2].partition("</div>")[0]
        assert "are not those of old box" in trouble and "; name another pack" in trouble
        assert path.name not in trouble and "series count" not in trouble, trouble


@pytest.mark.parametrize("before", ["thrown away", "still there"])
def test_nothing_said_of_a_mow_is_taken_for_the_next(new_page: RunningPage, before: str) -> None:
    with new_page.visitor() as visitor:
        _post(visitor, 0, 60, "first")
        assert _say(visitor, lawn="apple rows", start_charge="90").status_code == 200
        _shown(visitor, "Until green crate stops", "<strong>apple rows</strong>")
        assert _form(visitor)["start_charge"] == "90.0"
        if before == "thrown away":
            first = {key: _form(visitor)[key] for key in ("form_token", "source")}
            visitor.post("/live/drop", data={**first, "sure": "1"})
            assert list(new_page.app.state.watch.folder.iterdir()) == []
            idle = visitor.get("/live").text
            assert "No mow is running." in idle and 'http-equiv="refresh" content="15"' in idle
            assert new_page.app.state.watch.look() is None, "the answer of the mow that is gone"
        _post(visitor, 0, 20, "second")
        form = _form(visitor)
        assert (form["pack"], form["lawn"], form["start_charge"]) == ("", "", "")
        _post(visitor, 20, 50, "second")
        assert "<strong>apple rows</strong>: " not in _shown(visitor, "70 readings")


def test_a_screen_that_lost_its_connection_goes_on_where_the_mow_is(live_page: RunningPage) -> None:
    """Readings are posted, a screen sees them, is cut off, and on its return sees the next answer only."""
    with live_page.visitor() as logger:
        assert _post(logger, 0, 20).json() == {"mow": "shed logger 1", "kept": 20}
        say = {"pack": "green crate", "lawn": "apple rows", "start_charge": "100"}
        assert _say(logger, **say).status_code == 200
        assert _post(logger, 20, 380).json() == {"mow": "shed logger 1", "kept": 400}
        shown, first = "", ""
        while "400 readings" not in shown:
            ((first, shown),) = _events(live_page, 1, last=first)
        assert "Until green crate stops" in shown and "apple rows" in shown and "400 readings" in shown
        assert _post(logger, 390, 110).json()["kept"] == 500
        ((second, later),) = _events(live_page, 1, last=first)
        assert int(second) > int(first)
        assert "500 readings" in later
        state = logger.get("/api/live", headers=BEARER).json()
        assert state["readings"] == 500
        assert (
            state["answer"]["left"]["low"]
            < state["answer"]["left"]["minutes"]
            < state["answer"]["left"]["high"]
        )
        assert 0 <= state["answer"]["lawn"]["odds"] <= 1
        page = logger.get("/live").text
        assert '<noscript><meta http-equiv="refresh" content="15"></noscript>' in page
        assert "500\u00a0readings" in page or "500 readings" in page


def test_a_posted_mow_is_kept_like_a_file(live_page: RunningPage) -> None:
    with live_page.visitor() as visitor:
        _post(visitor, 0, 200)
        folder = live_page.app.state.watch.folder
        (path,) = posted_files(folder)
        token = token_of(visitor, "/live")
        preview = visitor.post("/live/keep", data={"form_token": token, "source": path.name})
        assert "/add/" in str(preview.url)
        assert "200 readings" in preview.text.replace("\u00a0", " ")
        assert posted_files(folder) == []
        assert visitor.post("/live/keep", data={"form_token": token, "source": path.name}).status_code == 422


def test_a_posted_mow_can_be_thrown_away_a_followed_file_cannot(orchard_copy: Path, tmp_path: Path) -> None:
    path = tmp_path / "growing.csv"
    path.write_text("time_s,current_a,voltage_v\n" + _lines(0, 300))
    with running_page(orchard_copy, tmp_path, follow=path) as page, page.visitor() as visitor:
        _post(visitor, 0, 200)
        (posted,) = posted_files(page.app.state.watch.folder)
        token = token_of(visitor, "/live")
        said = {"form_token": token, "source": path.name, "lawn": "nowhere"}
        assert visitor.post("/live/say", data=said).status_code == 422
        drop = {"form_token": token, "source": posted.name}
        asked = visitor.post("/live/drop", data=drop)
        assert posted.exists() and f'name="source" value="{posted.name}"' in asked.text
        assert '<button class="grave" name="sure" value="1">' in asked.text
        assert "Thrown away." in visitor.post("/live/drop", data={**drop, "sure": "1"}).text
        assert not posted.exists()
        followed = {"form_token": token, "source": path.name, "sure": "1"}
        assert visitor.post("/live/drop", data=followed).status_code == 422 and path.exists()
        answer = visitor.post("/live/drop", data={"form_token": token, "source": "elsewhere.csv"})
        assert answer.status_code == 422 and "is not here any more" in answer.text.replace("\u00a0", " ")


def test_more_screens_than_a_mow_needs_are_refused(live_page: RunningPage) -> None:
    from estimator.page.screens.live import MOST_STREAMS

    live_page.app.state.streams.update(range(MOST_STREAMS))
    with live_page.visitor() as visitor:
        answer = visitor.get("/live/events")
    live_page.app.state.streams.clear()
    assert answer.status_code == 503 and "oo many screens follow" in answer.text.replace("\u00a0", " ")


def test_a_screen_without_news_is_kept_open(live_page: RunningPage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("estimator.page.screens.live.QUIET_S", 0.0)
    with live_page.visitor() as visitor, visitor.stream("GET", "/live/events") as got:
        lines = iter(got.iter_lines())
        assert any(line == ": still here" for line in lines)


def test_a_post_needs_the_secret_and_says_its_limits(live_page: RunningPage) -> None:
    with live_page.visitor() as visitor:
        body = {"mow": "a", "readings": "0,4,52"}
        assert visitor.post("/api/live", json=body).status_code == 401
        assert visitor.post("/api/live", json={**body, "first": -1}, headers=BEARER).status_code == 422
        assert visitor.post("/api/live", json={**body, "mow": ""}, headers=BEARER).status_code == 422
        large = {"mow": "a", "readings": "0,4,52\n" * 60_000}
        assert visitor.post("/api/live", json=large, headers=BEARER).status_code == 413


def test_a_followed_file_is_shown_and_may_still_be_missing(orchard_copy: Path, tmp_path: Path) -> None:
    path = tmp_path / "growing.csv"
    with running_page(orchard_copy, tmp_path, follow=path) as page, page.visitor() as visitor:
        assert "Waiting for the first readings" in visitor.get("/live").text
        assert "No readings have come yet" in visitor.post("/live/keep", data=_form(visitor)).text
        assert _say(visitor, pack="green crate").status_code == 200
        path.write_text("time_s,current_a,voltage_v\n" + _lines(0, 300) + "\n300,4.1")
        deadline = time.monotonic() + LONGEST_WAIT_S
        while "300 readings" not in (text := visitor.get("/live").text.replace("\u00a0", " ")):
            assert time.monotonic() < deadline, text
            time.sleep(0.2)


def test_what_is_said_of_a_mow_is_answered_at_once(
    orchard_copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No pause as after a fault: whoever names the lawn looks at the screen and waits."""
    monkeypatch.setattr("estimator.page.live.watch.AGAIN_S", 1e6)
    file = tmp_path / "log.csv"
    file.write_text("time_s,current_a,voltage_v\n" + _lines(0, 60) + "\n")
    watch = Watch(PageSettings(orchard_copy, follow=file, pending_folder=tmp_path / "waiting"))
    answered: list[str | None] = []
    monkeypatch.setattr(watch, "_answer", lambda path, log: answered.append(watch.said(path).lawn))
    for lawn in (None, "apple rows"):
        if lawn:
            watch.say(file, Said(lawn=lawn))
        deadline = time.monotonic() + 30
        while lawn not in answered and time.monotonic() < deadline:
            watch.look()
            time.sleep(0.05)
    watch.end()
    assert answered == [None, "apple rows"]


@pytest.mark.parametrize(("odds", "danger"), [(0.99, False), (0.95, False), (0.94, True)])
def test_amber_is_the_lawn_in_danger(odds: float, danger: bool) -> None:
    from types import SimpleNamespace

    answer = SimpleNamespace(lawn=SimpleNamespace(odds=odds), left=SimpleNamespace(low=50))
    now = Now(1, BEGAN, "x", answer=answer)  # type: ignore[arg-type]
    assert now.in_danger is danger
