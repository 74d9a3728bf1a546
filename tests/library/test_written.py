"""What people write is understood, or the nearest word is named; alike in library, command and page."""

from __future__ import annotations

from datetime import datetime

import pytest

from estimator.descriptions import Grass, Machine, Pack, usual_cut_off_v
from estimator.errors import InputError
from estimator.written import area_m2, length_m, measured
from estimator.written_days import moment

AT = datetime(2026, 9, 14, 18, 0)  # a Monday


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("LFP", "lfp"), ("lifepo4", "lfp"), ("LiFePO4", "lfp"), ("Lithium Iron Phosphate", "lfp"),
        ("li-ion", "lithium"), ("Lithium-Ion", "lithium"), ("LiPo", "lco"), ("NMC", "nmc"),
        ("lead-acid", "lead_acid"), ("Lead acid", "lead_acid"), ("AGM", "lead_acid"), ("gel", "lead_acid"),
    ],
)  # fmt: skip
def test_a_pack_knows_other_names_of_its_chemistry(said: str, kept: str) -> None:
    pack = Pack(chemistry=said, series=6, capacity_ah=20, cut_off_v=usual_cut_off_v(said, 6))
    assert pack.chemistry == kept and pack == Pack(kept, 6, 20, pack.cut_off_v)


@pytest.mark.parametrize(
    ("said", "kept"),
    [("damp-ish", "damp"), ("a bit damp", "damp"), ("Dewy", "damp"), ("very wet", "wet"), ("DRY", "dry")],
)
def test_grass_knows_other_words_for_moisture(said: str, kept: str) -> None:
    assert Grass(moisture=said).moisture == kept


def test_a_machine_knows_other_words_for_how_it_cuts() -> None:
    assert [Machine(kind=said).kind for said in ("reel", "Rotary mower", "flail", None)] == [
        "cylinder", "rotary", "flail", None,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (
            lambda: Pack("LiFePO", 16, 20, 40, name="crate"),
            "pack crate: chemistry 'LiFePO' is not known; did you mean lfp?",
        ),
        (
            lambda: Pack("NiMH", 16, 20, 16),
            "pack pack: chemistry 'NiMH' is not known; choose one of nmc, nca, lco, lfp, lithium, lead_acid",
        ),
        (lambda: Grass(moisture="drry"), "grass moisture 'drry' is not known; did you mean dry?"),
        (
            lambda: Grass(moisture="not wet"),
            "grass moisture 'not wet' is not known; choose one of dry, damp, wet",
        ),
        (
            lambda: Machine("old one", kind="scythe"),
            "machine old one: kind 'scythe' is not known; choose one of cylinder, rotary, flail",
        ),
    ],
)
def test_other_words_meet_the_nearest(make: object, line: str) -> None:
    with pytest.raises(InputError) as refused:
        make()  # type: ignore[operator]
    assert str(refused.value) == line


@pytest.mark.parametrize(
    ("said", "m2"),
    [
        ("420", 420), ("1/4 acre", 1011.7), ("a quarter of an acre", 1011.7), ("½ acre", 2023.4),
        ("1½ acre", 6070.3),
        ("1 1/2 acres", 6070.3), ("20 x 35 m", 700), ("20x35", 700), ("20m × 35m", 700), ("20 by 35 m2", 700),
        ("60 by 40 ft", 222.97), ("0,1 ha", 1000), ("500 sq. ft", 46.45), ("5,5 x 10 m", 55),
    ],
)  # fmt: skip
def test_an_area_as_it_is_written(said: str, m2: float) -> None:
    assert area_m2(said) == pytest.approx(m2, rel=1e-4)


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("1,200", "area is '1,200': the comma may be a decimal or a thousands mark; leave it out"),
        ("1.600", "area is '1.600': the point may be a decimal or a thousands mark; leave it out"),
        ("420 sqn", "area is '420 sqn': unit 'sqn' is not known; did you mean sqm?"),
        (
            "3 furlong",
            "area is '3 furlong': unit 'furlong' is not known; use one of m2, ha, are, acre, sqft, sqyd",
        ),
        ("about 400", "area is 'about 400'; give a number and a unit (m2, ha, are, acre, sqft, sqyd)"),
        ("1/0 acre", "area is '1/0 acre'; give a number"),
    ],
)
def test_an_area_that_is_none(said: str, line: str) -> None:
    with pytest.raises(InputError) as refused:
        area_m2(said)
    assert str(refused.value) == line


def test_readings_with_their_unit() -> None:
    assert (measured("17A", "", "A"), measured("170 mA", "", "A"), measured("54,2 v", "", "V")) == (
        17,
        0.17,
        54.2,
    )
    assert (measured("25", "", "min"), measured("half an hour", "", "min"), measured("95 %", "", "%")) == (
        25,
        30,
        95,
    )
    assert (measured("25", "", "mm"), measured("2.5 cm", "", "mm")) == (25, 25)
    assert length_m("17 1/2 in") == pytest.approx(0.4445)
    with pytest.raises(
        InputError, match=r"^typical amps is '17 V': unit 'v' is not known; use one of A, mA$"
    ):
        measured("17 V", "typical amps", "A")


@pytest.mark.parametrize(
    ("said", "at"),
    [
        ("2026-09-12", "2026-09-12T00:00"), ("2026-09-12T09:30", "2026-09-12T09:30"),
        ("2026-9-1 9:30", "2026-09-01T09:30"), ("12 Sep 2026", "2026-09-12T00:00"),
        ("Sep 12, 2026", "2026-09-12T00:00"), ("12th of September 2026 2:15 pm", "2026-09-12T14:15"),
        ("12 Sep", "2026-09-12T00:00"), ("12 Dec", "2025-12-12T00:00"), ("12.9.2026", "2026-09-12T00:00"),
        ("13/9/2026", "2026-09-13T00:00"), ("today", "2026-09-14T00:00"), ("9:30", "2026-09-14T09:30"),
        ("2 pm", "2026-09-14T14:00"), ("10 May 10.15am", "2026-05-10T10:15"),
        ("3.30 p.m.", "2026-09-14T15:30"), ("12 am", "2026-09-14T00:00"), ("yesterday", "2026-09-13T00:00"),
        ("yesterday at 14:05", "2026-09-13T14:05"), ("3 days ago", "2026-09-11T00:00"),
        ("sat", "2026-09-12T00:00"), ("last Monday", "2026-09-07T00:00"),
        ("thursday noon", "2026-09-10T12:00"),
        ("2026-09-12T09:30+02:00", "2026-09-12T09:30"),
    ],
)  # fmt: skip
def test_a_day_as_it_is_written(said: str, at: str) -> None:
    assert moment(said, AT) == datetime.fromisoformat(at)


@pytest.mark.parametrize(
    "said", ["", "31 Feb 2026", "September", "someday", "25:00", "12 Sep 2026 x", "9.30"]
)
def test_a_day_that_is_none(said: str) -> None:
    with pytest.raises(InputError) as refused:
        moment(said, AT)
    assert str(refused.value) == (
        f"date {said!r} cannot be read; write it as 2025-05-01 or 2025-05-01T09:30, or as 12 Sep 2026, "
        "yesterday or 9:30"
    )


def test_a_day_that_may_be_two() -> None:
    with pytest.raises(InputError) as refused:
        moment("12/09/2026", AT)
    assert str(refused.value) == (
        "date '12/09/2026' may be 12 September or 9 December; write 12 Sep 2026 or 9 Dec 2026"
    )


@pytest.mark.parametrize(
    ("said", "unit", "line"),
    [
        ("soon", "min", "it is 'soon'; give a number [min], such as 80 or 1 h 20"),
        ("1:20", "min", "it is '1:20', which may be 80 min or 1 min 20 s; write 80, or 1.33"),
        ("0:45", "min", "it is '0:45', which may be 45 min or 0 min 45 s; write 45, or 0.75"),
        ("5-7", "A", "it is '5-7', a range; give one number, such as 6"),
        ("5,5 to 7 A", "A", "it is '5,5 to 7 A', a range; give one number, such as 6.25"),
        ("1/4-1/2", "A", "it is '1/4-1/2': unit '-1/2' is not known; use one of A, mA"),
    ],
)
def test_what_may_mean_two_numbers_is_refused(said: str, unit: str, line: str) -> None:
    with pytest.raises(InputError) as refused:
        measured(said, "it", unit)
    assert str(refused.value) == line


def test_a_clock_that_says_its_unit_or_is_too_long_for_hours_is_taken() -> None:
    assert [measured(said, "it", "min") for said in ("1 min 20", "5:30", "0:01:20")] == [
        pytest.approx(80 / 60), 5.5, pytest.approx(80 / 60),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "said",
    [
        "Sat 12 Sep 10:00",
        "saturday, 12.09.2026 10:00",
        "Sat. the 12th of Sep at 10:00",
        "sat 2026-09-12 10 am",
    ],
)
def test_a_weekday_may_stand_before_a_date(said: str) -> None:
    assert moment(said, AT) == datetime(2026, 9, 12, 10)


def test_a_weekday_that_contradicts_its_date_is_said() -> None:
    with pytest.raises(InputError) as refused:
        moment("Fri 12 Sep 10:00", AT)
    assert str(refused.value) == (
        "date 'Fri 12 Sep 10:00': 12 Sep 2026 is a Saturday; correct the day or the date"
    )
    assert moment("sat 2 pm", AT) == datetime(2026, 9, 12, 14), "a weekday alone is the last such day"


def test_gallons_fahrenheit_and_energy_at_the_edge() -> None:
    """NIST SP 811 (2008), B.8: a US gallon is 3.785412 l; t/°C = (t/°F - 32)/1.8."""
    assert measured("1 gal", "", "l") == pytest.approx(3.785412)
    assert measured("3.785412/gal", "", "per l") == pytest.approx(1.0)
    for written, celsius in (
        ("32 F", 0.0),
        ("212°F", 100.0),
        ("-40 °F", -40.0),
        ("24 °C", 24.0),
        ("24", 24.0),
    ):
        assert measured(written, "", "°C") == pytest.approx(celsius, abs=1e-9)
    with pytest.raises(InputError, match=r"500 Wh', an energy; .* at 36 V it is 13\.9 Ah$"):
        measured("500 Wh", "capacity", "Ah")
