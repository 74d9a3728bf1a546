"""Wire sizes against the published tables, to the digits that they print.

Sources: ASTM B258-02 (diameters), IEC 60028:1925 (copper), NFPA 70 (NEC) chapter 9 table 8, IEC 60228:2004
tables 2 and 3. The figures were compared with published copies of the tables, those of the NEC with two.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from estimator.conversion.wire_sizes import (
    IEC_CLASS_5_OHM_PER_KM,
    NEC_STRANDED_OHM_PER_KFT,
    awg_diameter_mm,
    copper_ohm_per_km,
    neighbours,
    sizes,
    temperature_factor,
    warmed_c,
    wire_size,
)
from estimator.errors import InputError

DIAMETERS_INCH = {
    -3: "0.4600", -2: "0.4096", -1: "0.3648", 0: "0.3249", 1: "0.2893", 2: "0.2576", 3: "0.2294", 4: "0.2043",
    5: "0.1819", 6: "0.1620", 7: "0.1443", 8: "0.1285", 9: "0.1144", 10: "0.1019", 12: "0.0808", 14: "0.0641",
    16: "0.0508", 18: "0.0403", 20: "0.0320", 22: "0.0253", 24: "0.0201", 36: "0.0050",
}  # fmt: skip

# size: solid uncoated, stranded uncoated, stranded coated [ohm per 1,000 ft at 75 °C]
NEC_TABLE_8 = {
    "18": ("7.77", "7.95", "8.45"),
    "16": ("4.89", "4.99", "5.29"),
    "14": ("3.07", "3.14", "3.26"),
    "12": ("1.93", "1.98", "2.05"),
    "10": ("1.21", "1.24", "1.29"),
    "8": ("0.764", "0.778", "0.809"),
    "6": (None, "0.491", "0.510"),
    "4": (None, "0.308", "0.321"),
    "3": (None, "0.245", "0.254"),
    "2": (None, "0.194", "0.201"),
    "1": (None, "0.154", "0.160"),
    "1/0": (None, "0.122", "0.127"),
    "2/0": (None, "0.0967", "0.101"),
    "3/0": (None, "0.0766", "0.0797"),
    "4/0": (None, "0.0608", "0.0626"),
}

# section [mm²]: class 2 plain, class 5 plain, class 5 metal-coated [ohm/km at 20 °C]
IEC_60228 = {
    0.5: ("36.0", "39.0", "40.1"),
    0.75: ("24.5", "26.0", "26.7"),
    1.0: ("18.1", "19.5", "20.0"),
    1.5: ("12.1", "13.3", "13.7"),
    2.5: ("7.41", "7.98", "8.21"),
    4.0: ("4.61", "4.95", "5.09"),
    6.0: ("3.08", "3.30", "3.39"),
    10.0: ("1.83", "1.91", "1.95"),
    16.0: ("1.15", "1.21", "1.24"),
    25.0: ("0.727", "0.780", "0.795"),
    35.0: ("0.524", "0.554", "0.565"),
    50.0: ("0.387", "0.386", "0.393"),
    70.0: ("0.268", "0.272", "0.277"),
    95.0: ("0.193", "0.206", "0.210"),
    120.0: ("0.153", "0.161", "0.164"),
}


def half_a_digit(printed: str) -> float:
    decimals = len(printed.partition(".")[2])
    return 0.5000001 * float(f"1e-{decimals}")


@pytest.mark.parametrize(("gauge", "printed"), DIAMETERS_INCH.items())
def test_diameters_of_astm_b258(gauge: int, printed: str) -> None:
    assert awg_diameter_mm(gauge) / 25.4 == pytest.approx(float(printed), abs=half_a_digit(printed))


def test_copper_of_iec_60028() -> None:
    assert copper_ohm_per_km(1.0) == pytest.approx(17.241, abs=half_a_digit("17.241"))
    assert 1000 / copper_ohm_per_km(1.0) == pytest.approx(58.0, abs=0.005), "58 MS/m is 100 % IACS"
    assert temperature_factor(21.0) - 1 == pytest.approx(0.00393, abs=half_a_digit("0.00393"))


@pytest.mark.parametrize("size", [size for size, row in NEC_TABLE_8.items() if row[0]])
def test_solid_wire_of_the_nec_follows_from_diameter_and_copper(size: str) -> None:
    printed = NEC_TABLE_8[size][0]
    assert printed is not None
    inches = float(DIAMETERS_INCH[int(size)])
    area_mm2 = math.pi / 4 * (25.4 * inches) ** 2
    assert copper_ohm_per_km(area_mm2, 75.0) * 0.3048 == pytest.approx(
        float(printed), abs=half_a_digit(printed)
    )


@pytest.mark.parametrize(("size", "row"), NEC_TABLE_8.items())
def test_stranded_wire_of_the_nec(size: str, row: tuple[str | None, str, str]) -> None:
    ohm_per_kft = wire_size(f"{size} AWG").ohm_per_km.times(temperature_factor(75.0) * 0.3048)
    assert ohm_per_kft.value == pytest.approx(float(row[1]), abs=half_a_digit(row[1]))
    assert ohm_per_kft.high == pytest.approx(float(row[2]), abs=half_a_digit(row[2]))


@pytest.mark.parametrize("size", NEC_STRANDED_OHM_PER_KFT)
def test_stranding_lengthens_the_wire_by_about_two_percent(size: str) -> None:
    """ASTM B8 allows 2 % for the lay of a concentric strand (from memory); rounding adds up to 0.5 %."""
    ohm = wire_size(f"{size} AWG").ohm_per_km
    assert ohm.value / ohm.low == pytest.approx(1.02, abs=0.006)


@pytest.mark.parametrize("celsius", [20.0, 40.0, 60.0, 75.0, 90.0])
def test_temperature_change_of_the_nec(celsius: float) -> None:
    """Note 2 of table 8: R2 = R1 [1 + 0.00323 (T2 − 75)]."""
    ours = temperature_factor(celsius) / temperature_factor(75.0)
    assert ours == pytest.approx(1 + 0.00323 * (celsius - 75.0), abs=0.0003)


@pytest.mark.parametrize(("area", "row"), IEC_60228.items())
def test_flexible_wire_of_iec_60228(area: float, row: tuple[str, str, str]) -> None:
    ohm = wire_size(f"{area:g} mm2").ohm_per_km
    assert ohm.value == pytest.approx(float(row[1]), abs=half_a_digit(row[1]))
    assert ohm.high == pytest.approx(float(row[2]), abs=half_a_digit(row[2]))
    stranded = float(row[0])
    assert 0.99 * stranded < ohm.value < 1.11 * stranded, "class 5 is near class 2, mostly a little above"
    assert ohm.low <= stranded, "no plain wire is better than copper of its nominal section"


def test_tables_hold_nothing_that_was_not_checked() -> None:
    assert set(NEC_STRANDED_OHM_PER_KFT) == set(NEC_TABLE_8)
    assert set(IEC_CLASS_5_OHM_PER_KM) == set(IEC_60228)


@pytest.mark.parametrize("system", ["awg", "mm2"])
def test_thicker_is_always_less_resistance(system: str) -> None:
    for thin, thick in pairwise(sizes(system)):
        assert thin.area_mm2 < thick.area_mm2
        assert thin.ohm_per_km.value > thick.ohm_per_km.value


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("10 AWG", "10 AWG"),
        ("awg 10", "10 AWG"),
        ("10awg", "10 AWG"),
        ("2/0 AWG", "2/0 AWG"),
        ("00 awg", "2/0 AWG"),
        ("0 awg", "1/0 AWG"),
        ("6 mm²", "6 mm²"),
        ("2,5mm2", "2.5 mm²"),
        ("4.0 sqmm", "4 mm²"),
    ],
)
def test_ways_to_write_a_size(text: str, name: str) -> None:
    assert wire_size(text).name == name
    assert wire_size(name).name == name


SOLD_AWG = "18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 1/0, 2/0, 3/0, 4/0"
SOLD_MM2 = "0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("11 AWG", f"11 AWG is not a size in the table; choose one of {SOLD_AWG}"),
        ("5 mm2", f"5 mm² is not a size in the table; choose one of {SOLD_MM2}"),
        ("10", """wire size '10' has no unit; write it as "6 mm2" or "8 AWG\""""),
        ("thick", """wire size 'thick' is not understood; write it as "6 mm2" or "8 AWG\""""),
    ],
)
def test_other_sizes_are_refused_with_the_mend(text: str, line: str) -> None:
    with pytest.raises(InputError) as error:
        wire_size(text)
    assert str(error.value) == line


def test_ends_of_the_row_have_one_neighbour() -> None:
    assert [size.name for size in neighbours(wire_size("18 AWG"))] == ["16 AWG"]
    assert [size.name for size in neighbours(wire_size("4/0 AWG"))] == ["3/0 AWG"]
    assert [size.name for size in neighbours(wire_size("6 mm2"))] == ["4 mm²", "10 mm²"]


@pytest.mark.parametrize(
    ("area", "amps"), [(1.5, 19.5), (2.5, 27.0), (4.0, 36.0), (6.0, 46.0), (10.0, 63.0), (16.0, 85.0)]
)
def test_amps_that_bring_pvc_to_70_degrees(area: float, amps: float) -> None:
    """IEC 60364-5-52, table B.52.2, copper, method C, in air of 30 °C (recalled, from memory)."""
    assert warmed_c(area, amps) == pytest.approx(70.0, abs=1.5)
    assert warmed_c(area, 0.0) == 30.0
