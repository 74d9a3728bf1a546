"""Minutes without readings: a break or a motor that ran on, by the volts on either side or as told."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from estimator.cli.named_files import as_option, decisions
from estimator.errors import InputError
from estimator.importer.choices import Choices, check_choices
from estimator.importer.cleaning.asleep import LONGEST_S, SHORTEST_S
from estimator.importer.cleaning.mending import Examined
from estimator.importer.read import examine_bytes
from estimator.mends import Give, Note
from estimator.page.showing.decisions import decisions_of

Array = NDArray[np.float64]
MEAN_A, SINKS_V_AH, OHM = 6.0, 1.2, 0.12


def mow(
    hole_min: float, ran: bool, *, sinks: float = SINKS_V_AH, holes: int = 1
) -> tuple[Array, Array, Array]:
    """Twenty minutes of mowing on both sides of each hole; volts fall with charge drawn and amps."""
    rng = np.random.default_rng(5)
    t, i, used = list[Array](), list[Array](), list[Array]()
    drawn_ah = at = 0.0
    for stretch in range(holes + 1):
        if stretch:
            at += 60 * hole_min
            drawn_ah += MEAN_A * hole_min / 60 if ran else 0.0
        amps = MEAN_A * rng.lognormal(0, 0.2, 1200) / np.exp(0.02)
        t.append(at + np.arange(1200.0))
        i.append(amps)
        used.append(drawn_ah + np.cumsum(amps) / 3600)
        at, drawn_ah = t[-1][-1], float(used[-1][-1])
    time_s, current_a = np.concatenate(t), np.concatenate(i)
    volts = 53.5 - sinks * np.concatenate(used) - OHM * current_a + 0.02 * rng.standard_normal(len(time_s))
    return time_s, current_a, volts


def look(mown: tuple[Array, Array, Array], **choices: object) -> Examined:
    rows = "".join(f"{t:g},{i:.2f},{v:.2f}\n" for t, i, v in zip(*mown, strict=True))
    told: Choices = choices  # type: ignore[assignment]
    return examine_bytes([("mow.csv", f"time_s,amps,volts\n{rows}".encode())], **told)


def note_of(found: Examined) -> str:
    return next((each for each in found.log.notes if each.startswith("No readings for")), "")


@pytest.mark.parametrize("minutes", [5, 25, 55])
def test_volts_tell_a_break_from_a_motor_that_ran_on(minutes: int) -> None:
    rested, ran = (look(mow(minutes, each)) for each in (False, True))
    assert "nothing ran, by the volts" in note_of(rested) and "the motor ran on" in note_of(ran)
    mown_ah = 2 * MEAN_A / 3
    assert rested.after.ah == pytest.approx(mown_ah, rel=0.03)
    assert ran.after.ah == pytest.approx(mown_ah + MEAN_A * minutes / 60, rel=0.03)
    for each in (rested, ran):
        assert np.diff(each.log.arrays["time_s"]).max() <= each.log.longest_step_s
        assert each.log.arrays["volts_drawn"].sum() > 0, "the pack is not judged by what nobody read"


def test_what_a_motor_drew_unread_is_doubted_and_a_break_is_not() -> None:
    """Fifteen hundredths of 2.5 Ah of 6.5 Ah."""
    plain, rested, ran = (look(each).log.error.current_gain for each in (
        mow(1, False), mow(25, False), mow(25, True)))  # fmt: skip
    assert rested == pytest.approx(plain)
    assert ran == pytest.approx(np.hypot(plain, 0.15 * 2.5 / 6.5), rel=0.02)


def test_where_volts_do_not_tell_the_doubt_is_told_and_the_choice_that_settles_it() -> None:
    found = look(mow(25, True, sinks=0.0))
    note = next(each for each in found.log.notes if isinstance(each, Note) and "volts do not show" in each)
    assert note.worded(as_option).endswith(
        "say --decide gaps=break for a break, --decide gaps=mowing if it ran."
    )
    assert np.diff(found.log.arrays["time_s"]).max() == pytest.approx(1500), "no sum crosses it"
    assert found.log.error.current_gain == pytest.approx(0.5 * 2.5 / 4.0, rel=0.05), "2.5 Ah or none beside 4"


@pytest.mark.parametrize(("told", "ah"), [("break", 4.0), ("mowing", 6.5)])
def test_what_the_user_says_counts_whatever_the_volts_show(told: str, ah: float) -> None:
    for each in (mow(25, False), mow(25, True), mow(25, True, sinks=0.0)):
        found = look(each, gaps=told)
        assert found.after.ah == pytest.approx(ah, rel=0.03) and note_of(found).endswith("as you said.")


def test_what_the_user_says_counts_where_nothing_changed_across_a_hole() -> None:
    """A meter that logs changes alone leaves out what stays as it is."""
    time_s, current_a, volts = mow(25, True, sinks=0.0)
    current_a[1200], volts[1200] = current_a[1199], volts[1199]
    joined_ah = 4.0 + current_a[1200] * 25 / 60
    assert look((time_s, current_a, volts)).after.ah == pytest.approx(joined_ah, rel=0.03)
    assert look((time_s, current_a, volts), gaps="break").after.ah == pytest.approx(4.0, rel=0.03)


def test_several_holes_are_judged_one_by_one() -> None:
    time_s, current_a, volts = mow(20, True, holes=3)
    volts[1200:] += SINKS_V_AH * MEAN_A * 20 / 60  # nothing was drawn in the first hole
    found = look((time_s, current_a, volts))
    said = [each for each in found.log.notes if each.startswith("No readings for 20 min")]
    assert sorted("nothing ran" in each for each in said) == [False, False, True]
    assert found.after.ah == pytest.approx(MEAN_A * (4 * 20 + 2 * 20) / 60, rel=0.03)


@pytest.mark.parametrize("seconds", [SHORTEST_S - 2, LONGEST_S + 2])
def test_short_holes_and_hours_are_left_as_gaps(seconds: float) -> None:
    found = look(mow(seconds / 60, True), gaps="mowing")
    assert not note_of(found) and "gap" in {each.kind for each in found.marks}


def test_every_door_takes_the_choice() -> None:
    assert decisions(["gaps=break"]) == decisions_of({"gaps": "break"}) == {"gaps": "break"}
    assert as_option(Give("gaps", "mowing")) == "--decide gaps=mowing"
    with pytest.raises(InputError, match="gaps is 'lunch'; say break or mowing"):
        check_choices({"gaps": "lunch"})
