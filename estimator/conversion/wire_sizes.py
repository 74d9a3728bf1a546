"""Copper wire sizes and their resistance, by gauge (AWG) and by section (mm²).

Sources, checked in `tests/conversion/test_wire_sizes.py`:
- ASTM B258 (diameters of AWG sizes): 0.005 inch × 92^((36 − n)/39), with n = −3 for 4/0.
- IEC 60028:1925 (annealed copper): 0.017241 Ω·mm²/m at 20 °C, rising by 0.00393 of that per kelvin.
- NEC (NFPA 70) chapter 9, table 8: DC resistance of stranded copper at 75 °C, uncoated and coated.
- IEC 60228:2004, table 3: highest resistance of class 5 (flexible) copper at 20 °C, plain and metal-coated.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from estimator.conversion.bands import Band
from estimator.errors import InputError

COPPER_OHM_MM2_PER_KM = 17.241
"""Resistivity at 20 °C; IEC 60028:1925."""
COPPER_PER_KELVIN = 0.00393
"""Rise per kelvin, as a share of the resistance at 20 °C; IEC 60028:1925."""
KFT_PER_KM = 1 / 0.3048
"""One foot is 0.3048 m; NIST SP 811, appendix B."""

NEC_STRANDED_OHM_PER_KFT = {
    "18": (7.95, 8.45), "16": (4.99, 5.29), "14": (3.14, 3.26), "12": (1.98, 2.05), "10": (1.24, 1.29),
    "8": (0.778, 0.809), "6": (0.491, 0.510), "4": (0.308, 0.321), "3": (0.245, 0.254), "2": (0.194, 0.201),
    "1": (0.154, 0.160), "1/0": (0.122, 0.127), "2/0": (0.0967, 0.101), "3/0": (0.0766, 0.0797),
    "4/0": (0.0608, 0.0626),
}  # fmt: skip
"""NEC chapter 9 table 8, stranded copper at 75 °C: uncoated, coated [ohm per 1,000 ft]."""

IEC_CLASS_5_OHM_PER_KM = {
    0.5: (39.0, 40.1), 0.75: (26.0, 26.7), 1.0: (19.5, 20.0), 1.5: (13.3, 13.7), 2.5: (7.98, 8.21),
    4.0: (4.95, 5.09), 6.0: (3.30, 3.39), 10.0: (1.91, 1.95), 16.0: (1.21, 1.24), 25.0: (0.780, 0.795),
    35.0: (0.554, 0.565), 50.0: (0.386, 0.393), 70.0: (0.272, 0.277),
    95.0: (0.206, 0.210), 120.0: (0.161, 0.164),
}  # fmt: skip
"""IEC 60228 class 5 at 20 °C: plain, metal-coated [ohm/km], by section [mm²]."""


@dataclass(frozen=True)
class WireSize:
    """A size that is sold.

    area_mm2 : nominal section of copper
    ohm_per_km : one conductor at 20 °C; the value is the table's figure for plain wire, low is ideal copper
        of the nominal section, high is the table's figure for coated wire
    """

    name: str
    system: str
    area_mm2: float
    ohm_per_km: Band


def awg_diameter_mm(gauge: int) -> float:
    """Diameter [mm] of solid round wire after ASTM B258; 1/0 to 4/0 are gauges 0 to −3.

    >>> round(awg_diameter_mm(10) / 25.4, 4), round(awg_diameter_mm(-3) / 25.4, 4)
    (0.1019, 0.46)
    """
    return 0.127 * float(92 ** ((36 - gauge) / 39))


def copper_ohm_per_km(area_mm2: float, celsius: float = 20.0) -> float:
    """Resistance [ohm/km] of annealed copper after IEC 60028.

    >>> copper_ohm_per_km(1.0), round(copper_ohm_per_km(1.0, 75.0), 3)
    (17.241, 20.968)
    """
    return COPPER_OHM_MM2_PER_KM / area_mm2 * temperature_factor(celsius)


def temperature_factor(celsius: float) -> float:
    """Resistance of copper at a temperature [°C] divided by that at 20 °C, after IEC 60028.

    >>> round(temperature_factor(75.0), 4)
    1.2162
    """
    return 1 + COPPER_PER_KELVIN * (celsius - 20.0)


def warmed_c(area_mm2: float, current_a: float) -> float:
    """Temperature [°C] of copper in PVC under a lasting current, two conductors clipped on at 30 °C.

    IEC 60364-5-52, annex D, method C: 15 A · S^0.625 (S in mm², up to 16) warms it from 30 to 70 °C; the rise
    varies as the square of the current. In a bundle or a loom it is higher.

    >>> round(warmed_c(6.0, 46.0)), round(warmed_c(6.0, 23.0))
    (70, 40)
    """
    return float(30.0 + 40.0 * (current_a / (15.0 * area_mm2**0.625)) ** 2)


def wire_size(text: str) -> WireSize:
    """The size that is written as "6 mm2", "8 AWG", "2/0 AWG" or "6 mm²".

    >>> wire_size("8 AWG").area_mm2, wire_size("6 mm2").ohm_per_km.value
    (8.36..., 3.3)
    """
    words = text.strip().lower()
    if metric := re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:mm2|mm²|mm\^2|sqmm)", words):
        area = float(metric[1].replace(",", "."))
        if area in IEC_CLASS_5_OHM_PER_KM:
            return _metric(area)
        known = ", ".join(f"{each:g}" for each in IEC_CLASS_5_OHM_PER_KM)
        raise InputError(f"{area:g} mm² is not a size in the table", mend=f"choose one of {known}")
    if gauge := re.fullmatch(r"(?:awg\s*)?([0-9]/0|[0-9]+)(?:\s*(?:awg|ga|gauge))?", words):
        if words == gauge[1]:
            raise InputError(f"wire size {text!r} has no unit", mend='write it as "6 mm2" or "8 AWG"')
        number = f"{len(gauge[1])}/0" if set(gauge[1]) == {"0"} else gauge[1]
        if number in NEC_STRANDED_OHM_PER_KFT:
            return _awg(number)
        known = ", ".join(NEC_STRANDED_OHM_PER_KFT)
        raise InputError(f"{number} AWG is not a size in the table", mend=f"choose one of {known}")
    raise InputError(f"wire size {text!r} is not understood", mend='write it as "6 mm2" or "8 AWG"')


def sizes(system: str) -> tuple[WireSize, ...]:
    """All sizes of a system, "awg" or "mm2", thinnest first.

    >>> [size.name for size in sizes("awg")][:2]
    ['18 AWG', '16 AWG']
    """
    if system == "awg":
        return tuple(_awg(gauge) for gauge in NEC_STRANDED_OHM_PER_KFT)
    return tuple(_metric(area) for area in IEC_CLASS_5_OHM_PER_KM)


def neighbours(size: WireSize) -> tuple[WireSize, ...]:
    """The next thinner and the next thicker size of the same system, where they exist.

    >>> [each.name for each in neighbours(wire_size("8 AWG"))]
    ['10 AWG', '6 AWG']
    """
    row = sizes(size.system)
    at = [each.name for each in row].index(size.name)
    return row[max(at - 1, 0) : at] + row[at + 1 : at + 2]


def _awg(gauge: str) -> WireSize:
    number = 1 - int(gauge[0]) if gauge.endswith("/0") else int(gauge)
    area = math.pi / 4 * awg_diameter_mm(number) ** 2
    plain, coated = (each * KFT_PER_KM / temperature_factor(75.0) for each in NEC_STRANDED_OHM_PER_KFT[gauge])
    return WireSize(f"{gauge} AWG", "awg", area, Band(plain, copper_ohm_per_km(area), coated))


def _metric(area: float) -> WireSize:
    plain, coated = IEC_CLASS_5_OHM_PER_KM[area]
    return WireSize(f"{area:g} mm²", "mm2", area, Band(plain, min(copper_ohm_per_km(area), plain), coated))
