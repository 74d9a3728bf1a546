"""Answers that lack something say so instead of leaving a gap."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from estimator.answers.conversion import ConversionAnswer
from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.answers.mow import MowsListed, story_of_mow
from estimator.answers.why import Why
from estimator.conversion.bands import Band
from estimator.conversion.current_limits import Limit, current_limits
from estimator.conversion.load_trace import LoadTrace
from estimator.conversion.running_cost import Petrol, running_cost
from estimator.descriptions import Lawn, Pack
from estimator.errors import InputError
from estimator.fitting.pack.pack_fit import fit_pack
from estimator.logbook import keep_lawn, keep_pack, open_logbook
from estimator.report.words.conversion_text import care_text, cost_text, ends, limits_text
from estimator.report.words.mow_text import mow_figures_text, mow_list_text, story_text
from estimator.report.words.season_text import compare_text, seasons_text


def test_an_empty_logbook_has_no_mows() -> None:
    assert mow_list_text(MowsListed(0, ()), 72) == "No mows."


def test_a_figure_that_is_not_known_is_unknown() -> None:
    assert ends(None, "min") == "unknown"


@pytest.mark.parametrize(("gap_min", "filled"), [(5, True), (15, False)])
def test_a_figure_that_fills_in_unread_minutes_says_so(tmp_path: Path, gap_min: int, filled: bool) -> None:
    """10 minutes at 10 A (9 to 11) and 40 V are 66.7 Wh, on 400 m² .167 Wh/m²; with five unread minutes more
    .250. More unread than read is taken for a break. Once seen: "129 Wh; 0.327 Wh/m²" on a lawn of 550 m²."""
    seconds = [*range(301), *range(300 + 60 * gap_min, 601 + 60 * gap_min)]
    rows = "".join(f"{second},{9 + second * 7 % 11 * 0.2:.1f},40\n" for second in seconds)
    with open_logbook(tmp_path / "own.sqlite") as logbook:
        keep_lawn(logbook, Lawn("strip", 400))
        keep_pack(logbook, Pack("nmc", 11, 10.0, 30.0, name="crate"))
        said = Circumstances("strip")
        kept = add_mow(logbook, [("a.csv", f"time [s],current [A],voltage [V]\n{rows}".encode())], said)
        texts = mow_figures_text(kept, 98), story_text(story_of_mow(logbook, 1), 98)
    for text in texts:
        assert ("0.250 Wh/m², the unread minutes filled in" if filled else "0.167 Wh/m²\n") in text


def test_one_season_without_a_known_start_says_both() -> None:
    now = SimpleNamespace(said="9 Ah")
    answer: Any = SimpleNamespace(pack="green crate", pack_now=now, comparisons=(), curves=None, sentences=())
    said = seasons_text(answer, 72)
    no_curves = "No discharge curves: no logged mow starts from a known charge (hand readings give none)."
    assert no_curves in " ".join(said.split())
    assert said.endswith("No dated mows with it yet.")


def test_start_charges_must_be_as_many_as_logs() -> None:
    pack = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
    with pytest.raises(InputError) as refused:
        fit_pack([], pack, start_charges=[1.0])
    assert str(refused.value) == "1 start charges for 0 logs; give one for each log"
    assert fit_pack([], pack).capacity_ah == 10.0


def test_one_mow_is_one_and_changes_carry_their_sign() -> None:
    explained, plain = (
        SimpleNamespace(raw_change=0.9, grass_change=each, grass_share=0.0) for each in (-0.3, 0.0)
    )
    comparison = SimpleNamespace(measure="pace", unit="m²/min", groups=(), changes=(explained, plain))
    answer: Any = SimpleNamespace(
        mows=(13, 1), earlier="without 'oiled'", later="with 'oiled'", comparisons=(comparison,), sentences=()
    )
    said = compare_text(answer, 72)
    assert said.startswith("13 mows without 'oiled', 1 mow with 'oiled'")
    assert " ".join(said.split()).endswith(
        " - Pace: without that allowance it would look like +90 %; circumstances account for -30 %."
    ), "said once: what they do not change is not said"


def test_a_limit_that_the_verdict_tells_of_is_not_told_twice() -> None:
    load = LoadTrace([10.0] * 300, [48.0] * 300)
    found = current_limits([load], [Limit("fuse", 30.0), Limit("battery management", 25.0, 1.0)])
    said = " ".join(limits_text(ConversionAnswer(found, 1, Why()), 72).split())
    assert "Highest current in 1 mow " in said
    assert [said.count(name) for name in ("fuse 30 A", "battery management 25 A")] == [1, 1]


def test_blade_care_that_was_never_noted_is_not_called_unknown() -> None:
    advice: Any = SimpleNamespace(verdict="v", suggestions=(), idle=None, energy=None, since=None)
    assert care_text(ConversionAnswer(advice, 3, Why()), 72).endswith(
        "Last blade care: none is noted; note it with `mowcharge describe care DAY`"
    )


def test_cost_without_a_number_of_mows_has_no_column_for_the_season() -> None:
    alone = running_cost(Band(100.0, 90.0, 110.0), 0.35, area_m2=380.0)
    season = running_cost(Band(100.0, 90.0, 110.0), 0.35, area_m2=380.0, mows_per_season=20)
    texts = [cost_text(ConversionAnswer(each, 3, Why()), 72) for each in (alone, season)]
    assert ["season" in each for each in texts] == [False, True]
    assert not any("unknown" in each for each in texts)


def test_a_season_that_saves_nothing_is_said_to_cost_more() -> None:
    asked = {"area_m2": 380.0, "mows_per_season": 20, "petrol": Petrol(price_per_l=1.0, l_per_mow=0.1)}
    cheap = running_cost(Band(100.0, 90.0, 110.0), 0.01, **asked)
    dear = running_cost(Band(100.0, 90.0, 110.0), 10.0, **asked)
    said = [cost_text(ConversionAnswer(each, 3, Why()), 72).splitlines()[-2] for each in (cheap, dear)]
    assert said[0].startswith("A season saves ") and said[0].endswith(" in fuel and electricity.")
    assert said[1].startswith("A season costs ") and said[1].endswith(" more in fuel and electricity.")
    assert "-" not in said[1]
