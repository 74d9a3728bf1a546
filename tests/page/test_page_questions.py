"""Fields turned into questions: what is out of range is reported, what is blank keeps its usual value."""

from __future__ import annotations

import pytest

from estimator.errors import InputError
from estimator.page.door.forms import Sent, amounts_of
from estimator.page.questions import capacity_question, lawns_in_order, minutes_question, plan_question
from estimator.page.showing.decisions import decisions_of
from estimator.page.showing.words import amount, day, minutes, percent
from estimator.predictor.lawns.day import ChargingPause


def sent(**fields: str) -> Sent:
    return Sent(fields, {name: [text] for name, text in fields.items()})


def test_blank_fields_keep_the_usual_values() -> None:
    plan, capacity, left = plan_question(sent()), capacity_question(sent()), minutes_question(sent())
    assert (plan.sure, plan.start_charge, plan.reserve, plan.order, plan.pause) == (
        0.95,
        None,
        0.0,
        "given",
        None,
    )
    assert (capacity.sure, capacity.reserve, capacity.capacity_at_end, capacity.coldest_c) == (
        0.95,
        0.10,
        0.80,
        None,
    )
    assert (left.level, left.start_charge, left.lawn) == (0.90, None, None)


def test_zero_is_no_blank() -> None:
    assert capacity_question(sent(reserve="0", coldest_c="0")).reserve == 0.0
    assert capacity_question(sent(coldest_c="0")).coldest_c == 0.0
    assert plan_question(sent(start_charge="0")).start_charge == 0.0


def test_a_break_needs_its_charger() -> None:
    fields = {"pause_minutes": "30", "pause_after": "1", "charger_w": "200"}
    assert plan_question(sent(**fields)).pause == ChargingPause(1, 30.0, 200.0)
    with pytest.raises(InputError, match="power of the charger is missing"):
        plan_question(sent(pause_minutes="30", pause_after="1"))


def test_places_decide_the_order_and_lawns_without_one_come_last() -> None:
    fields = Sent({"place:a": "3", "place:c": "1"}, {"lawn": ["a", "b", "c", "a"]})
    assert lawns_in_order(fields) == ("c", "a", "b")


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        ({"resistance_at_end": "9"}, "give 1 to 5"),
        ({"sizes_ah": "8 0"}, "size of a pack is 0 Ah; give 0.01 to 2000 Ah"),
        ({"sizes_ah": " ".join(["8"] * 13)}, "name 12 at most"),
        ({"sure": "99.95"}, "certainty is 0.9995; give a share from 0.5 to 0.999"),
        ({"reserve": "nan"}, "give a number"),
        ({"coldest_c": "1e999"}, "give a number"),
    ],
)
def test_what_is_out_of_range_is_said(fields: dict[str, str], line: str) -> None:
    with pytest.raises(InputError, match=line):
        capacity_question(sent(**fields))


def test_a_field_takes_what_the_command_line_takes_and_refuses_the_same() -> None:
    assert amounts_of(sent(typical_a="17 A", minutes="24:30"), "typical_a", "minutes") == {
        "typical_a": 17.0, "minutes": 24.5,
    }  # fmt: skip
    for said, line in (("1:20", "write 80, or 1.33"), ("1,200", "leave it out"), ("5-7", "such as 6")):
        with pytest.raises(InputError, match=line):
            amounts_of(sent(minutes=said), "minutes")


def test_too_many_lawns_are_said() -> None:
    with pytest.raises(InputError, match="name 60 at most"):
        lawns_in_order(Sent({}, {"lawn": [str(k) for k in range(61)]}))


def test_decisions_that_cannot_be_taken_are_said() -> None:
    with pytest.raises(InputError, match="say yes or no"):
        decisions_of({"day_first": "perhaps"})
    with pytest.raises(InputError, match="give a number"):
        decisions_of({"zero_a": "none"})
    assert decisions_of({"reverse": "no", "decimal": ","}) == {"reverse": False, "decimal": ","}


def test_figures_that_are_not_known_are_said_so() -> None:
    assert [word(None) for word in (amount, percent, minutes)] == ["unknown"] * 3
    assert amount(float("inf"), "min") == minutes(float("inf")) == "no end in sight"
    assert day("some time") == "some time"
