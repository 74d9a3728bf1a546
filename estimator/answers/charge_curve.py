"""The charge curve of a kept mow: the charge of the pack at every moment of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from estimator.answers.figures.mow_figures import as_noted, features_of_mows, with_habit
from estimator.answers.figures.mow_log import log_of_mow
from estimator.answers.figures.pack_chain import fit_of_pack
from estimator.answers.figures.pack_now import pack_now
from estimator.answers.keeping.typed import the_pack
from estimator.answers.minutes import ChargeTrace
from estimator.answers.why import Part, Why, within
from estimator.arrays import Array
from estimator.conversion.cautions import for_pack
from estimator.importer.by_hand.amps import USUAL
from estimator.importer.log import Log
from estimator.logbook import Logbook, mow

LEVEL = 0.90
"""Coverage of the band of a charge curve."""
MOST_POINTS = 400
"""Most points of a drawn curve: a picture is some 800 pixels wide, and more would show nothing."""


@dataclass(frozen=True)
class ChargeOfMow:
    """Charge through one mow.

    charge, low, high [0..1] : at the last reading, with the band of `level`
    used_ah, used_ah_std [Ah] : charge used and its standard uncertainty; gap_minutes [min] : without readings
    """

    mow: int
    pack: str
    charge: float
    low: float
    high: float
    level: float
    used_ah: float
    used_ah_std: float
    measured_minutes: float
    gap_minutes: float
    trace: ChargeTrace
    why: Why


def charge_of_mow(logbook: Logbook, number: int, log: Log | None = None) -> ChargeOfMow:
    """The charge curve of a mow with its band.

    log : its log, where it has been read already

    Raises InputError where the mow names no pack and several are described.
    """
    from estimator.fitting.charge_used import charge_used
    from estimator.predictor.charge_curve import charge_columns

    record = mow(logbook, number)
    log = log_of_mow(logbook, number) if log is None else log
    pack = fit_of_pack(logbook, the_pack(logbook, record.pack))
    habit, used, how = USUAL, charge_used(log), "trapezoid between readings"
    if log.spot is not None:
        from estimator.fitting.by_hand.habit import learn_habits

        found = features_of_mows(logbook)
        own = found.get(number) or features_of_mows(logbook, [record])[number]
        others = [each for other, each in found.items() if other != number]
        habit = learn_habits(others).of(record.machine, record.lawn)
        used = replace(used, **as_noted(with_habit(found, number, own)))
        how = "as its readings and the other mows say together"
    curve = charge_columns(log, pack, record.start_charge, record.temperature_c, habit)
    last = len(curve["time_s"]) - 1
    places = sorted({round(k * last / (MOST_POINTS - 1)) for k in range(MOST_POINTS)})
    columns = ("time_s", "charge", "low", "high")
    trace = ChargeTrace(*(_held(curve[name][places], name) for name in columns))
    return ChargeOfMow(
        mow=number,
        pack=pack.name,
        charge=trace.charge[-1],
        low=trace.low[-1],
        high=trace.high[-1],
        level=LEVEL,
        used_ah=used.ah,
        used_ah_std=used.ah_std,
        measured_minutes=used.measured_s / 60,
        gap_minutes=used.gap_s / 60,
        trace=trace,
        why=Why(
            parts=(
                Part("charge used", used.ah, "Ah", f"{how}, {within(used.ah_std, 'Ah')}"),
                *pack_now(pack).parts(),
                Part("clamp zero", within(log.error.current_zero_a, "A"), note="it does not average out"),
            ),
            assumptions=()
            if record.start_charge is not None or log.spot is not None
            else ("The charge at the start was worked out from the voltage.",),
            sources=(
                "Charge counted, and volts compared with a circuit: Plett, J. Power Sources 134 (2004).",
                "Uncertainties combined by JCGM 100:2008 (GUM).",
            ),
            cautions=for_pack(pack.chemistry)[:1],
        ),
    )


def _held(column: Array, name: str) -> tuple[float, ...]:
    """Values of a column; charge is shown within 0..1 though its band may reach beyond."""
    return tuple((column if name == "time_s" else column.clip(0.0, 1.0)).tolist())
