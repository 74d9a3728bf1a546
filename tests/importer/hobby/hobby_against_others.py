"""Recordings that contradict the pack, the lawn, the calendar or an earlier mow. All are invented."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
from hobby_contradiction import Contradiction, table
from hobby_mow import TrueMow, clock, true_mow


def against_others(folder: Path) -> list[Contradiction]:
    """Write all of them into the folder."""
    return [*_other_packs(folder), *_too_much(folder), *_calendar(folder), *_recordings(folder)]


def _other_packs(folder: Path) -> list[Contradiction]:
    many, few = true_mow(621, cells=24, minutes=18), true_mow(622, cells=4, minutes=18, mean_a=8.0)
    time_s = np.arange(0, 9001, 10.0)
    flow = -np.where(time_s < 6600, 3.0, 3.0 * np.exp(-(time_s - 6600) / 900))
    charged = true_mow(623, minutes=150, rest_s=0, step_s=10, start=0.3, current_a=flow)
    return [
        Contradiction(
            "pack_of_24",
            table(folder, "pack_of_24", many),
            "refused",
            "97 V: another pack, of 24 in series",
            ("13", "24"),
        ),
        Contradiction(
            "pack_of_4",
            table(folder, "pack_of_4", few),
            "refused",
            "16 V: another pack, of 4 in series",
            ("13", "about 4"),
        ),
        Contradiction(
            "chargers_log",
            table(folder, "chargers_log", charged, current=-charged.current_a),
            "refused",
            "amps are positive and steady, then tail off, while volts climb to those of a full pack",
            ("charg",),
        ),
    ]


def _too_much(folder: Path) -> list[Contradiction]:
    long = true_mow(641, minutes=75, step_s=5, mean_a=5.4)
    strong, quick = true_mow(642, minutes=6), true_mow(643, minutes=1.2, rest_s=20)
    return [
        Contradiction(
            "more_than_it_holds",
            table(folder, "more_than_it_holds", long, current=2.5 * long.current_a),
            "refused",
            "17 Ah out of a pack of 10 Ah which is not even empty",
            ("Ah", "10"),
        ),
        Contradiction(
            "power_no_mower_has",
            table(folder, "power_no_mower_has", strong, current=70 * strong.current_a),
            "refused",
            "16 kW on average, 13 times the pack's limit of 25 A, with the sag of 5 A",
            ("W",),
        ),
        Contradiction(
            "pace_no_mower_has",
            table(folder, "pace_no_mower_has", quick),
            "refused",
            "420 m² in 72 s",
            ("m²",),
        ),
    ]


def _calendar(folder: Path) -> list[Contradiction]:
    ahead, first, second = (true_mow(seed, minutes=15, step_s=3) for seed in (651, 652, 653))
    titles = "date and time,current [A],voltage [V]"

    def dated(day: str, mow: TrueMow) -> list[str]:
        return [f"{day} {clock(36_000 + t)}" for t in mow.time_s]

    return [
        Contradiction(
            "date_in_the_future",
            table(folder, "date_in_the_future", ahead, titles=titles, time=dated("2091-06-14", ahead)),
            "refused",
            "nobody has mown in 2091 yet: the meter's clock is wrong, the mow is not",
            ("2091",),
        ),
        Contradiction(
            "date_habit",
            table(folder, "habit_a", first, titles=titles, time=dated("14/06/2025", first))
            + table(folder, "habit_b", second, titles=titles, time=dated("05/07/2025", second)),
            "settled",
            "two mows of one meter, one after the other: the first shows that it writes the day first",
            truth=second.figures,
            started=date(2025, 7, 5),
        ),
    ]


def _recordings(folder: Path) -> list[Contradiction]:
    one, two = true_mow(661, minutes=14), true_mow(662, minutes=16, start=0.99)
    both = TrueMow(
        *(
            np.concatenate([a, b])
            for a, b in (
                (one.time_s, two.time_s + 11_000),
                (one.current_a, two.current_a),
                (one.voltage_v, two.voltage_v),
                (one.charge_left, two.charge_left),
            )
        ),
        cells=13,
    )
    return [
        Contradiction(
            "two_mows_in_one",
            table(folder, "two_mows_in_one", both),
            "refused",
            "three hours without a reading, and a fuller pack after them than before",
            ("two",),
        )
    ]
