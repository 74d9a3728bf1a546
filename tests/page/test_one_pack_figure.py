"""What a pack gives is one figure: for one logbook it is the same wherever it is shown."""

from __future__ import annotations

import json
from datetime import datetime
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from page_kit import running_page
from planted_packs import part, planted_log

from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import PackNow, pack_now
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.answers.looking_back.pack_life import pack_life
from estimator.cli import _run
from estimator.descriptions import Lawn, Pack
from estimator.logbook import Logbook, keep_lawn, keep_pack, open_logbook, pack
from estimator.report.pictures.season_pictures import pack_life_picture

CRATE = Pack("nmc", 13, 10.0, 39.0, name="crate")
TRUE_AH = 9.2
COMMANDS = (
    ("plan", "orchard"),
    ("capacity", "orchard"),
    ("pack-life", "orchard"),
    ("seasons",),
    ("mows",),
    ("show", "1"),
)
PAGES = (
    "/mows/1",
    "/lawns?lawn=orchard",
    "/capacity?lawn=orchard",
    "/life?lawn=orchard",
    "/seasons?pack=crate",
)


def planted_mow(seed: int, deep: float) -> bytes:
    """The file of a mow from full, stopped at the share `deep` of its time; 1 is the cut-off."""
    log = planted_log(np.random.default_rng(seed), capacity_ah=TRUE_AH)[0]
    readings = part(log, upto_s=deep * log.readings["time_s"].iloc[-1]).readings
    return readings.round(3).to_csv(index=False).encode()


def own_logbook(path: Path, depths: tuple[float, ...]) -> tuple[PackNow, float]:
    """Fill a logbook with these mows; returns what `add` said last, and the most that a mow drew [Ah]."""
    with open_logbook(path) as book:
        keep_lawn(book, Lawn("orchard", 420.0))
        keep_pack(book, CRATE)
        said = [
            add_mow(
                book,
                [(f"mow {week}.csv", planted_mow(week, deep))],
                Circumstances(
                    lawn="orchard", pack="crate", start_charge=1.0, started=datetime(2025, 5, 1 + 7 * week, 9)
                ),
            )
            for week, deep in enumerate(depths)
        ]
        return said[-1].pack_now, max(each.ah for each in said)


@pytest.mark.parametrize("depths", [(0.3, 0.5), (0.4, 1.0, 0.5)])
def test_every_place_shows_the_same_figure(
    depths: tuple[float, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "own.sqlite"
    now, _ = own_logbook(path, depths)
    monkeypatch.setenv("MOWCHARGE_LOGBOOK", str(path))
    capsys.readouterr()
    for words in COMMANDS:
        if max(depths) < 1.0 and words[0] == "pack-life":
            continue  # no mow shows a capacity, and it says so
        assert _run([*words]) == 0
        assert now.said in " ".join(capsys.readouterr().out.split()), words
        assert _run([*words, "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        answer = found.get("answer", found)
        shown = answer["packs"][0]["pack_now"] if words[0] == "mows" else answer["pack_now"]
        assert shown["usable_ah"] == pytest.approx(now.usable_ah), words
        assert shown["capacity_ah"] == pytest.approx(now.capacity_ah), words
    with running_page(path, tmp_path) as page, page.visitor() as visitor:
        for address in PAGES:
            if max(depths) < 1.0 and address.startswith("/life"):
                continue
            answer = visitor.get(address, follow_redirects=True)
            assert now.said in " ".join(unescape(answer.text).split()), address


@pytest.mark.parametrize("depths", [(1.0,), (0.4, 1.0, 0.5), (1.0, 0.9)])
def test_what_was_drawn_from_full_is_what_it_gives(depths: tuple[float, ...], tmp_path: Path) -> None:
    """Not less than a mow drew, and not more than was left at the cut-off, at the power of these mows."""
    now, drawn_ah = own_logbook(tmp_path / "own.sqlite", depths)
    assert now.usable_ah == pytest.approx(drawn_ah, rel=0.015)
    assert now.usable_ah < now.capacity_ah == pytest.approx(TRUE_AH, rel=0.03)


def test_the_course_of_a_pack_ends_at_what_it_holds_now(orchard: Logbook) -> None:
    """Two seasons of mows that no cut-off ended: they show how the pack faded, but not how much it holds."""
    now = pack_now(fit_of_pack(orchard, pack(orchard, "green crate")))
    answer = pack_life(orchard, ("far meadow",), pack="green crate")
    assert answer.pack_now == now
    assert answer.forecast.fade.capacity_ah[0] == pytest.approx(now.capacity_ah, rel=1e-6)
    course = pack_life_picture(answer).axes[0].lines[-2]
    assert course.get_ydata()[0] == pytest.approx(now.usable_ah, rel=1e-6)
