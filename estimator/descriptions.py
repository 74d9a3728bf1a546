"""What the user describes once: lawns, grass, packs and machines.

Discharge current is positive everywhere. Volts, amps and ohms are of the whole pack, never of one cell,
unless the name says `cell`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil, floor

from estimator.amounts import check_amount, check_amounts, is_number
from estimator.errors import InputError, OutOfRange
from estimator.mends import Give
from estimator.written_names import CHEMISTRY_NAMES, MOISTURE_NAMES, MOWER_NAMES, known_word

CHEMISTRIES = tuple(CHEMISTRY_NAMES)
"""What packs are made of; `lithium` stands for lithium-ion cells charged to 4.2 V of an unknown kind."""
MOISTURES = tuple(MOISTURE_NAMES)
MOISTURE_SIGNS = {"dry": "leaves no mark on a shoe", "damp": "leaves a mark on a shoe", "wet": "drips"}
"""How to tell how wet the grass is (common practice)."""
STOPPED_SHORT = "stopped short"
"""Tag of a mow that ended before its lawn was done: its energy per area would be too low."""
LAWN_DONE = "lawn done"
"""Tag of a mow whose lawn was done although the pack had just reached its cut-off."""
RAN_OUT = "ran out"
"""Tag of a mow in which the battery itself stopped the motor: it gives no more than that."""
ENDS = frozenset({STOPPED_SHORT, LAWN_DONE, RAN_OUT})
"""The tags that say how a mow ended."""
DOUBTFUL = "doubtful"
"""Tag of a mow that was kept although its readings can hardly be right: no answer rests on it."""
TAGS_THAT_MEAN = (*sorted(ENDS), DOUBTFUL)
"""All tags that answers act on."""
TAGS_THAT_COUNT = (
    "'stopped short' where the lawn was not finished, "
    "'ran out' where the battery stopped the motor, "
    "'lawn done' where the lawn was finished all the same"
)
"""The tags that say how a mow ended, for labels and help."""
FULL_CELL_V = {"nmc": 4.2, "nca": 4.2, "lco": 4.2, "lfp": 3.65, "lithium": 4.2, "lead_acid": 2.45}
"""Voltage [V] of a cell at the end of charging (common practice)."""
HALF_CELL_V = {"nmc": 3.75, "nca": 3.68, "lco": 3.83, "lfp": 3.29, "lithium": 3.75, "lead_acid": 2.04}
"""Voltage [V] at which a half-full cell rests, from the published curves of `fitting.pack.open_circuit`: no
cut-off lies above it."""
LEAST_CELL_V = {"nmc": 1.9, "nca": 1.9, "lco": 1.9, "lfp": 1.9, "lithium": 1.9, "lead_acid": 1.2}
"""Voltage [V] below which no controller lets a cell fall (common practice; lead-acid: when cranking)."""
USUAL_CUT_OFF_V = {"nmc": 3.0, "nca": 3.0, "lco": 3.0, "lfp": 2.5, "lithium": 3.0, "lead_acid": 1.75}
"""Cut-off [V] of a cell where the controller's own is not known (common practice)."""
SOLD_BY_MAXIMUM_V = (20, 40, 56, 60, 80, 120)
"""Labels [V] that mean the volts of a full pack, 4 V a cell (common practice)."""
RATED_CELL_V = {
    "nmc": (3.4, 3.75), "nca": (3.4, 3.75), "lco": (3.4, 3.75), "lfp": (3.0, 3.25), "lithium": (3.4, 3.75),
    "lead_acid": (1.99, 2.01),
}  # fmt: skip
"""Range of a cell's rated volts behind the labels of packs, which round to whole volts (common practice)."""


def series_of_volts(chemistry: str, rated_v: float, series: float | None = None) -> float:
    """Cells in series of a pack by the volts on its label, which must agree with a count that is given.

    chemistry : one of `CHEMISTRIES` or another name, such as AGM; rated_v : [V]; series : None if unknown

    Raises InputError for volts that cannot be or do not fit the count, or under which two counts are sold.
    Source: common practice.

    >>> series_of_volts("lead_acid", 24), series_of_volts("nmc", 36), series_of_volts("lfp", 51.2)
    (12, 10, 16)
    """
    chemistry = known_word(chemistry, CHEMISTRY_NAMES, "pack: chemistry")
    check_amount("rated_v", rated_v, whose="pack", needed=True)
    (low_v, high_v), full_v = RATED_CELL_V[chemistry], FULL_CELL_V[chemistry]
    if series is not None and low_v * series <= rated_v <= full_v * series:
        return series
    counts = list(range(ceil(rated_v / high_v), floor(rated_v / low_v) + 1))
    if rated_v % 1:  # such as 51.2: the label is a multiple of a cell's
        printed = (3.2,) if chemistry == "lfp" else (3.6, 3.7)
        counts = [n for n in counts if any(abs(rated_v - n * v) < 0.01 for v in printed)] or counts
    if rated_v in SOLD_BY_MAXIMUM_V and full_v > 4:
        counts.insert(0, round(rated_v / 4))
    if len(counts) == 1 and series is None:
        return counts[0]
    volts = f"pack: {rated_v:g} V of {chemistry.replace('_', '-')}"
    full = " or ".join(f"{each} cells ({full_v * each:.1f} V when full)" for each in counts)
    what = f"can be {full}" if counts else "is no whole number of cells"
    what = what if series is None else f"is not {series:g} cells: it {what}"
    raise InputError(f"{volts} {what}", mend=("give ", Give("series")))


def usual_cut_off_v(chemistry: str, series: int) -> float:
    """A sensible cut-off for a pack whose controller's or battery management's own is not known.

    Parameters
    ----------
    chemistry : one of nmc, nca, lco, lfp, lithium, lead_acid, or another name of it such as LiFePO4 or AGM
    series : cells in series, 1 to 1000

    Returns
    -------
    float
        [V] of the whole pack

    Raises
    ------
    InputError
        for an unknown chemistry or a series count that cannot be

    Source: common practice.

    >>> usual_cut_off_v("nmc", 13)
    39.0
    """
    chemistry = known_word(chemistry, CHEMISTRY_NAMES, "pack: chemistry")
    _check_series("pack", series)
    return USUAL_CUT_OFF_V[chemistry] * series


def _check_series(whose: str, series: int) -> None:
    check_amount("series", series, whose=whose, needed=True)
    if int(series) != series:
        raise InputError(f"{whose}: series count is {series}", mend="give a whole number from 1 to 1000")


@dataclass(frozen=True)
class Pack:
    """A battery pack by its rated values.

    chemistry : nmc, nca, lco, lfp, lithium (cells charged to 4.2 V, family unknown) or lead_acid
    series : cells in series (for lead_acid: 2 V cells, so a 12 V block counts 6)
    capacity_ah : rated capacity [Ah] of the whole pack; capacity_guessed : whether it is a guess, not a label
    cut_off_v : voltage [V] at which the controller or battery management stops the motor
    current_limit_a : highest current [A] that controller or battery management allows, if known
    resistance_ohm : resistance [ohm] of the whole pack at 25 °C, if known
    hold_s : time [s] that the voltage must stay under the cut-off before the motor stops
    string_ah : capacity [Ah] of one parallel string, for packs that can be built in whole strings
    first_year : year of first use, if known; until logs count the capacity, what is left of it goes by age

    >>> Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0).cut_off_v
    39.0
    """

    chemistry: str
    series: int
    capacity_ah: float
    cut_off_v: float
    current_limit_a: float | None = None
    resistance_ohm: float | None = None
    hold_s: float = 1.0
    string_ah: float | None = None
    first_year: float | None = None
    name: str = "pack"
    capacity_guessed: bool = False

    @property
    def cells(self) -> str:
        """What it is made of, in words.

        >>> Pack("AGM", series=12, capacity_ah=36.0, cut_off_v=21.0).cells
        '12 lead-acid cells in series, charged to 29.4 V'
        """
        full_v = FULL_CELL_V[self.chemistry] * self.series
        return f"{self.series} {self.chemistry.replace('_', '-')} cells in series, charged to {full_v:.1f} V"

    @property
    def says(self) -> str:
        """Its capacity in words, as the label says it or as it was guessed."""
        ah = f"{self.capacity_ah:g} Ah"
        return f"about {ah}, guessed" if self.capacity_guessed else ah

    def __post_init__(self) -> None:
        whose = f"pack {self.name}"
        known = known_word(self.chemistry, CHEMISTRY_NAMES, f"{whose}: chemistry")
        object.__setattr__(self, "chemistry", known)
        _check_series(whose, self.series)
        for needed in ("capacity_ah", "hold_s"):
            check_amount(needed, getattr(self, needed), whose=whose, needed=True)
        check_amounts(self, ("current_limit_a", "resistance_ohm", "string_ah", "first_year"), whose=whose)
        if not is_number(self.cut_off_v):
            raise InputError(f"{whose}: cut-off is {self.cut_off_v!r}", mend="give a number")
        low, high = (each[self.chemistry] * self.series for each in (LEAST_CELL_V, HALF_CELL_V))
        if not low <= self.cut_off_v <= high:
            usual = usual_cut_off_v(self.chemistry, self.series)
            raise OutOfRange(
                "cut-off", float(self.cut_off_v), round(low, 2), round(high, 2), unit="V", whose=whose,
                such_as=f"{usual:g} V, for {self.cells}",
            )  # fmt: skip


@dataclass(frozen=True)
class Lawn:
    """A named area [m²] mown as one job.

    >>> Lawn("orchard", area_m2=420).name
    'orchard'
    """

    name: str
    area_m2: float

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise InputError("a lawn has no name", mend="give it one")
        check_amount("area_m2", self.area_m2, whose=f"lawn {self.name}", needed=True)


@dataclass(frozen=True)
class Grass:
    """The state of the grass as a person judges it by eye; whatever is unknown may be left out.

    moisture : dry, damp or wet
    growth_mm : height [mm] that the cut takes off
    days_since_cut : days since the last cut, where the height was not judged

    >>> Grass(moisture="damp", growth_mm=25).moisture
    'damp'
    """

    moisture: str | None = None
    growth_mm: float | None = None
    days_since_cut: float | None = None

    def __post_init__(self) -> None:
        if self.moisture is not None:
            object.__setattr__(self, "moisture", known_word(self.moisture, MOISTURE_NAMES, "grass moisture"))
        check_amounts(self, ("growth_mm", "days_since_cut"), whose="grass")


KINDS = tuple(MOWER_NAMES)
"""How a mower cuts: blades past a fixed one, a blade that hits the grass, or hammers."""


@dataclass(frozen=True)
class Machine:
    """A converted mower: cutting width [m], walking pace [m/s], rated motor power [W], days of blade care.

    kind : how it cuts, one of `KINDS`, if given; predicts the power it takes until it is logged
    """

    name: str = "mower"
    cutting_width_m: float | None = None
    pace_m_s: float | None = None
    motor_rated_w: float | None = None
    blade_care: tuple[date, ...] = ()
    kind: str | None = None

    def __post_init__(self) -> None:
        if self.kind is not None:
            kind = known_word(self.kind, MOWER_NAMES, f"machine {self.name}: kind")
            object.__setattr__(self, "kind", kind)
        check_amounts(self, ("cutting_width_m", "pace_m_s", "motor_rated_w"), whose=f"machine {self.name}")
