"""One screen after each mow: proposals, nothing typed is lost, many files at once, what is said then."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from page_kit import RunningPage, read, running_page, token_of, upload

from estimator.answers.figures.mow_figures import features_of_mows
from estimator.answers.keeping.after_mow import after_mow
from estimator.answers.keeping.proposal import likely_lawn, propose
from estimator.logbook import Logbook, lawns, log_of, mow, mows, open_logbook, packs
from estimator.page.door.pending import all_waiting
from estimator.page.screens.adding import with_proposals


@pytest.fixture
def page(orchard_copy: Path, tmp_path: Path) -> Iterator[RunningPage]:
    """The page of a copy of the orchard's logbook."""
    with running_page(orchard_copy, tmp_path) as running:
        yield running


def again(samples: Path, folder: Path, day: str, name: str = "2025-07-05a.csv") -> Path:
    """A sample log with another day's date."""
    path = folder / f"{day}.csv"
    path.write_text((samples / name).read_text().replace(name[:10], day))
    return path


def test_the_lawn_of_a_log_is_proposed(orchard: Logbook) -> None:
    """The orchard's own diary is the truth: each lawn is proposed from the mows before it."""
    records = mows(orchard)
    found = features_of_mows(orchard, records)
    for place in range(6, len(records)):
        one, before = records[place], records[:place]
        said = likely_lawn(
            found[one.id], lawns(orchard), before, {each.id: found[each.id] for each in before}, one.started
        )
        assert said == one.lawn, one.id


def test_pack_and_full_start_of_a_log_are_proposed(orchard: Logbook) -> None:
    for record in mows(orchard)[::5]:
        found = propose(orchard, log_of(orchard, record.id))
        assert (found.pack, found.start_charge) == (record.pack, record.start_charge)


def test_a_start_far_from_full_is_not_taken_for_one(orchard: Logbook) -> None:
    """The second half of a log begins where the first half left the pack."""
    log = log_of(orchard, next(each.id for each in mows(orchard) if each.lawn == "far meadow"))
    half = log.readings.iloc[len(log.readings) // 2 :].reset_index(drop=True)
    half["time_s"] -= half["time_s"].iloc[0]
    assert propose(orchard, replace(log, readings=half)).start_charge is None


def test_a_mow_is_compared_with_what_was_predicted_before_it(orchard: Logbook) -> None:
    record = next(each for each in mows(orchard) if each.lawn == "chapel strip" and each.started.year == 2025)  # type: ignore[union-attr]
    after = after_mow(orchard, record.id)
    assert after.predicted is not None and after.harder is not None
    assert after.predicted.energy_came_wh == pytest.approx((1 + after.harder) * after.predicted.energy_wh)
    assert after.predicted.earlier < len(mows(orchard)), "from the mows before it alone"
    assert {each.lawn for each in after.more} == {"apple rows", "far meadow"}
    assert after_mow(orchard, mows(orchard)[0].id).predicted is None, "nothing came before the first"


def test_three_taps_from_the_file_to_what_is_left(page: RunningPage, samples: Path, tmp_path: Path) -> None:
    with page.visitor() as visitor:
        shown = upload(visitor, again(samples, tmp_path, "2025-10-18"))
        assert re.search(r'value="chapel strip" required checked', shown.text)
        assert re.search(r'value="green crate" required checked', shown.text)
        assert 'name="start_charge" type="text" value="100"' in shown.text
        said = dict.fromkeys(("growth_mm", "days_since_cut", "temperature_c", "tags"), "")
        said |= {"lawn": "chapel strip", "pack": "green crate", "start_charge": "100", "moisture": "dry"}
        said |= {"started": "2025-10-18T16:40", "form_token": token_of(visitor)}
        kept = visitor.post(f"{shown.url.path}/keep", data=said)
        assert kept.url.path == "/mows/35/kept"
        words = unescape(kept.text).replace("\xa0", " ")
        assert re.search(r"Kept\. \d+ % (harder|easier) than predicted\.", words)
        assert re.search(r"Enough left for [a-z ]+: (over )?\d+ in 100\.", words)
        assert "in 9 mows of 10" in words


def test_nothing_typed_is_lost(page: RunningPage, samples: Path, tmp_path: Path) -> None:
    """Reading it again, and describing another lawn first, keep grass and tags; the new lawn is chosen."""
    with page.visitor() as visitor:
        shown = upload(visitor, again(samples, tmp_path, "2025-10-19"))
        token = token_of(visitor)
        typed = {"form_token": token, "moisture": "wet", "tags": "new cable", "growth_mm": "31"}
        described = visitor.post(f"{shown.url.path}/say", data={**typed, "describe": "lawn"})
        assert described.url.path == "/list/lawn"
        onward = described.url.params["onward"]
        back = visitor.post(
            "/list/lawn", data={"form_token": token, "name": "steep bit", "area": "90", "onward": onward}
        )
        assert back.url.path == shown.url.path
        assert re.search(r'value="steep bit" required checked', back.text)
        read = visitor.post(f"{shown.url.path}/say", data={"form_token": token, "zero_a": "0.05"})
        for each in (back, read):
            assert 'value="wet" checked' in each.text
            assert 'value="new cable"' in each.text
            assert 'value="31"' in each.text
        assert re.search(r'value="steep bit" required checked', read.text)


def test_many_files_make_a_list_that_is_kept_together(
    page: RunningPage, samples: Path, tmp_path: Path
) -> None:
    days = ("2025-10-20", "2025-10-27")
    paths = [again(samples, tmp_path, day) for day in days]
    paths += [samples / "2024-07-06a-amps.csv", tmp_path / "odd.csv", samples / "2024-07-06a-volts.csv"]
    (tmp_path / "odd.csv").write_text("what,ever\n1,2\n")
    with page.visitor() as visitor:
        listed = upload(visitor, *paths)
        assert listed.url.path == "/waiting"
        assert "2024-07-06a-amps.csv and 2024-07-06a-volts.csv" in listed.text
        assert listed.text.count("Waits for you") == 1
        assert "Keep the 3 that are clear" in listed.text
        kept = visitor.post("/waiting/keep", data={"form_token": token_of(visitor), "moisture": "damp"})
        assert '<h1 role="status">Kept 2 mows.</h1>' in kept.text.replace("\xa0", " "), "the pair is known"
        assert "2024-07-06a-volts.csv are in the logbook already, and not kept twice" in kept.text
        assert "odd.csv, row 1: no columns" in kept.text and " below" not in kept.text, "in short on the list"
        assert [each.names for each in all_waiting(page.settings.pending_folder)] == [("odd.csv",)]
        dropped = visitor.post("/waiting/drop", data={"form_token": token_of(visitor)})
        assert "Nothing is waiting" in dropped.text
    with open_logbook(page.settings.logbook) as book:
        assert [f"{mow(book, number).started:%Y-%m-%d}" for number in (35, 36)] == list(days)
        assert mow(book, 35).grass.moisture == "damp"


def test_the_list_proposes_again_only_after_a_change(
    page: RunningPage, samples: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Volts that no pack can have: nothing can be proposed, however often the list is looked at."""
    asked = []

    def counted(*given: Any) -> dict[str, str]:
        asked.append(given)
        return with_proposals(*given)

    monkeypatch.setattr("estimator.page.screens.waiting.with_proposals", counted)
    rows = "".join(f"{second},6,{12.4 - second / 4000}\n" for second in range(0, 900, 2))
    for name in ("one.csv", "other.csv"):
        (tmp_path / name).write_text(f"time_s,current_a,voltage_v\n{rows}{1000 + len(name)},6,12\n")
    with page.visitor() as visitor:
        upload(visitor, tmp_path / "one.csv", tmp_path / "other.csv")
        assert len(all_waiting(page.settings.pending_folder)) == 2
        asked.clear()
        for _ in range(3):
            assert "Waits for you" in visitor.get("/waiting").text
        assert not asked
        visitor.post("/list/lawn", data={"form_token": token_of(visitor), "name": "hen run", "area": "90"})
        visitor.get("/waiting")
        visitor.get("/waiting")
        assert len(asked) == 2, "each file once"


def test_the_lawn_of_each_file_is_corrected_on_the_list(
    page: RunningPage, samples: Path, tmp_path: Path
) -> None:
    paths = [again(samples, tmp_path, day) for day in ("2025-10-20", "2025-10-27")]
    with page.visitor() as visitor:
        listed = upload(visitor, *paths)
        fields = re.findall(r'<select id="(lawn_[0-9a-f]{32})"', listed.text)
        assert len(fields) == 2 and listed.text.count("selected>") == 2, "what is proposed is chosen already"
        assert "20 October 2025" in read(listed) and "27 October 2025" in read(listed)
        form = {"form_token": token_of(visitor), fields[0]: "far meadow"}
        assert visitor.post("/waiting/keep", data=form).status_code == 200
    with open_logbook(page.settings.logbook) as book:
        assert {mow(book, number).lawn for number in (35, 36)} >= {"far meadow"}


def test_a_first_season_is_given_its_lawns_on_the_list(empty_page: RunningPage, samples: Path) -> None:
    """The files came first; nothing was mown yet, so nothing speaks for a lawn, until one mow is kept."""
    with empty_page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        listed = upload(visitor, samples / "2024-04-13a.csv", samples / "2025-05-03a.csv")
        assert "/list/pack?onward=/waiting" in listed.text and "Keep" not in listed.text
        pack = {"name": "crate", "chemistry": "nmc", "series": "13", "capacity_ah": "10"}
        visitor.post("/list/pack", data={**token, **pack, "onward": "/waiting"})
        for name, area in (("apple rows", "420"), ("far meadow", "900")):
            listed = visitor.post(
                "/list/lawn", data={**token, "name": name, "area": area, "onward": "/waiting"}
            )
        assert listed.url.path == "/waiting"
        fields = re.findall(r'<select id="(lawn_[0-9a-f]{32})"', listed.text)
        assert len(fields) == 2 and "Keep those that are clear" in listed.text
        kept = visitor.post("/waiting/keep", data={**token, fields[0]: "far meadow", "moisture": "dry"})
        assert '<h1 role="status">Kept 1 mow.</h1>' in read(kept).replace("\xa0", " ")
        assert "Keep the one that is clear" in kept.text, "its lawn is proposed by what the first took"
    with open_logbook(empty_page.settings.logbook) as book:
        assert [(each.lawn, each.grass.moisture) for each in mows(book)] == [("far meadow", "dry")]


def test_a_file_without_a_date_has_its_own(page: RunningPage, tmp_path: Path) -> None:
    """It was last written when the mow ended, ten minutes after it began."""
    rows = "".join(f"{k},{4 + 0.5 * (k % 7):.1f},{53 - 0.004 * k:.2f}\n" for k in range(601))
    with page.visitor() as visitor:
        shown = visitor.post(
            "/add", data={"form_token": token_of(visitor), "modified": "2025-10-04T11:00:00"},
            files=[("files", ("bare.csv", ("time_s,current_a,voltage_v\n" + rows).encode()))],
        )  # fmt: skip
    assert 'value="2025-10-04T10:50"' in shown.text
    assert "by the file's own date" in unescape(shown.text)


def test_shared_files_come_from_the_phone_alone(page: RunningPage, samples: Path, tmp_path: Path) -> None:
    path = again(samples, tmp_path, "2025-10-21")
    files = [("files", (path.name, path.read_bytes()))]
    with page.visitor() as visitor:
        shared = visitor.post(
            "/add/shared", files=files, headers={"sec-fetch-site": "none", "origin": "null"}
        )
        assert re.fullmatch(r"/add/[0-9a-f]{32}", shared.url.path)
        for site in ("cross-site", "same-site"):
            refused = visitor.post("/add/shared", files=files, headers={"sec-fetch-site": site})
            assert refused.status_code == 403
        assert visitor.post("/add/shared", files=files).status_code == 403, (
            "a browser says where it comes from"
        )


def test_columns_of_a_refused_table_are_chosen_by_touch(page: RunningPage, tmp_path: Path) -> None:
    odd = tmp_path / "odd.csv"
    odd.write_text("a,b,c\n" + "".join(f"{k},{4000 + k % 7},{53 - 0.004 * k:.2f}\n" for k in range(600)))
    with page.visitor() as visitor:
        shown = upload(visitor, odd)
        assert shown.status_code == 422
        assert len(re.findall(r'<select id="hold_\d"', shown.text)) == 3
        held = {"hold_1": "time", "hold_2": "current[mA]", "hold_3": "voltage"}
        mended = visitor.post(f"{shown.url.path}/say", data={"form_token": token_of(visitor), **held})
        assert mended.status_code == 200, mended.text
        assert "Keep this mow" in mended.text


def test_a_mow_that_is_set_aside_is_found_again_and_counted(page: RunningPage) -> None:
    with page.visitor() as visitor:
        how = "which “Count it” there takes off, it counts."
        before, shed = (read(visitor.get(path)) for path in ("/mows", "/"))
        assert how not in before
        visitor.post("/mows/3/settle", data={"form_token": token_of(visitor), "how": "aside"})
        listed = visitor.get("/mows").text
        assert "; doubtful</small>" in listed and how in listed
        chosen = visitor.get("/mows", params={"season": "2024", "lawn": "far meadow"}).text
        assert 'href="/mows/3"' in chosen and how in chosen
        after = read(visitor.get("/mows"))
        said = re.compile(r'<p class="lead">(\d+ mows)')
        shown = [
            found[1] for each in (before, shed, after, read(visitor.get("/"))) if (found := said.search(each))
        ]
        assert shown == ["34 mows"] * 4


def test_a_doubtful_mow_is_settled_with_one_tap(page: RunningPage) -> None:
    with page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        aside = visitor.post("/mows/3/settle", data={**token, "how": "aside"})
        assert "Count it" in aside.text
        assert "no answer rests on it" in aside.text
        looked = read(visitor.get("/mows/3/kept"))
        assert "No comparison: no answer rests on a mow that is set aside." in looked
        assert "a lawn that was finished" not in looked, "it has earlier mows, and its lawn was finished"
        counted = visitor.post("/mows/3/settle", data={**token, "how": "counts"})
        assert "Count it" not in counted.text
        assert visitor.post("/mows/3/settle", data={**token, "how": "burn"}).status_code == 422
        assert isinstance(counted, httpx.Response) and counted.url.path == "/mows/3"


def test_a_log_over_two_lawns_is_split(page: RunningPage) -> None:
    with page.visitor() as visitor:
        token = {"form_token": token_of(visitor)}
        shown = visitor.get("/mows/3").text
        assert "data-split" in shown
        refused = visitor.post("/mows/3/split", data={**token, "until": "500", "lawn": "apple rows"})
        assert refused.status_code == 422
        second = visitor.post("/mows/3/split", data={**token, "until": "28", "lawn": "apple rows"})
        assert second.url.path == "/mows/35"
    with open_logbook(page.settings.logbook) as book:
        ends = [log_of(book, number).readings["time_s"].iloc[-1] / 60 for number in (3, 35)]
        assert [mow(book, number).lawn for number in (3, 35)] == ["far meadow", "apple rows"]
    assert ends[0] == pytest.approx(28)
    assert sum(ends) == pytest.approx(47.0, abs=0.1), "the parts add up to the whole log"


def test_a_log_of_two_packs_is_split(page: RunningPage) -> None:
    with page.visitor() as visitor, open_logbook(page.settings.logbook) as book:
        first = mow(book, 4)
        other = next(each.name for each in packs(book) if each.name != first.pack)
        said = {"form_token": token_of(visitor), "until": "20", "lawn": "", "pack": other}
        second = mow(book, int(visitor.post("/mows/4/split", data=said).url.path.removeprefix("/mows/")))
        assert (second.pack, second.lawn) == (other, first.lawn)


def test_hand_readings_are_corrected(page: RunningPage) -> None:
    with page.visitor() as visitor:
        number = next(n for n in range(1, 35) if "/correct" in visitor.get(f"/mows/{n}").text)
        assert 'name="put_back_ah"' in visitor.get(f"/mows/{number}").text  # known once it is charged
        said = {"form_token": token_of(visitor), "minutes": "44", "put_back_ah": "2.1"}
        corrected = visitor.post(f"/mows/{number}/correct", data=said)
        assert "Changed." in corrected.text
    with open_logbook(page.settings.logbook) as book:
        spot = log_of(book, number).spot
    assert spot is not None and (spot.minutes, spot.put_back_ah) == (44, 2.1)
    assert spot.typical_a == 4.5, "what was left blank stays"
