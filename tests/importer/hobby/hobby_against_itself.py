"""Units, clamps and columns that the rest of the recording contradicts. All readings are invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hobby_contradiction import Contradiction, table
from hobby_mow import resting_volts, true_mow


def against_itself(folder: Path) -> list[Contradiction]:
    """Write all of them into the folder."""
    return [*_units(folder), *_flow(folder), *_wrong_columns(folder)]


def _units(folder: Path) -> list[Contradiction]:
    amps, bare, volts, clocked = (true_mow(seed, minutes=20, step_s=2) for seed in (601, 602, 603, 604))
    return [
        Contradiction(
            "milliamps_called_amps",
            table(folder, "milliamps_called_amps", amps, current=1000 * amps.current_a),
            "refused",
            "the title says A, but thousands of them at 52 V are the power of a railway engine",
            ("mA",),
        ),
        Contradiction(
            "milliamps_without_unit",
            table(folder, "milliamps_without_unit", bare, titles="t,I,U", current=1000 * bare.current_a),
            "settled",
            "no unit is given: only mA fit the sag and the charge of this pack",
            truth=bare.figures,
        ),
        Contradiction(
            "millivolts_called_volts",
            table(folder, "millivolts_called_volts", volts, voltage=1000 * volts.voltage_v),
            "refused",
            "the title says V, but the pack has 54 V and not 54,000",
            ("mV",),
        ),
        Contradiction(
            "minutes_called_seconds",
            table(
                folder,
                "minutes_called_seconds",
                clocked,
                titles="time [s],current [A],voltage [V],used [mAh]",
                time=[f"{t / 60:.4f}" for t in clocked.time_s],
                more=(1000 * clocked.used_ah,),
            ),
            "settled",
            "the counter rises sixty times as fast as the clock allows: the clock counts minutes",
            truth=clocked.figures,
        ),
    ]


def _flow(folder: Path) -> list[Contradiction]:
    spiked = true_mow(611, minutes=20)
    spikes = spiked.current_a.copy()
    spikes[[210, 433, 700, 941, 1100]] = 65535.0
    turned, mirrored, stuck = (true_mow(seed, minutes=20) for seed in (612, 613, 614))
    half = np.where(turned.time_s > turned.time_s.mean(), -1.0, 1.0)
    held = np.where(stuck.time_s > 480, 4.17, stuck.current_a)
    rising = 2 * 13 * resting_volts(mirrored.charge_left) - mirrored.voltage_v
    return [
        Contradiction(
            "glitches_of_65535",
            table(folder, "glitches_of_65535", spiked, current=spikes),
            "settled",
            "five single readings of 65535 A between sound neighbours, without any sag",
            truth=spiked.figures,
        ),
        Contradiction(
            "clamp_turned_half_way",
            table(folder, "clamp_turned_half_way", turned, current=half * turned.current_a),
            "settled",
            "amps turn negative half way, but volts sag with them as before: the clamp was turned round",
            truth=turned.figures,
        ),
        Contradiction(
            "volts_rise_under_load",
            table(folder, "volts_rise_under_load", mirrored, voltage=rising),
            "refused",
            "volts fall from start to end as in use, yet rise with every ampere: two unlike recordings",
            ("volts",),
        ),
        Contradiction(
            "amps_stuck",
            table(folder, "amps_stuck", stuck, current=held),
            "aside",
            "after 8 minutes the same 4.17 A to the end, even at rest, while volts go on swinging",
            ("4.17",),
        ),
    ]


def _wrong_columns(folder: Path) -> list[Contradiction]:
    mow = true_mow(631, minutes=22, step_s=2)
    titles = "time [s],current [A],voltage [V],used [mAh],board temperature,cell 1 [V]"
    warm = 24 + 7 * mow.time_s / mow.time_s[-1]
    more = (1000 * mow.used_ah, warm, mow.voltage_v / 13)
    paths = table(folder, "wrong_column", mow, titles=titles, more=more)

    def chosen(name: str, why: str, kind: str, title: str) -> Contradiction:
        return Contradiction(name, paths, "refused", why, (title,), options={"columns": {kind: title}})

    return [
        chosen(
            "degrees_as_amps", "degrees that creep up are no amps: no sag", "current", "board temperature"
        ),
        chosen("counter_as_amps", "what only ever rises is a counter of charge", "current", "used [mAh]"),
        chosen("cell_as_pack", "4 V is one cell and not 13 in series", "voltage", "cell 1 [V]"),
    ]
