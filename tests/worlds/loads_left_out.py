"""Choose constants of the load to come, leaving out each source of loads in turn; by hand:

    python tests/worlds/loads_left_out.py [FOLDER] [--owners 24]

Sources are walked lawns of this world, loads with a memory of 30 and 120 s, and, where FOLDER is given,
recordings: tables `NAME.csv` with time_s, current_a, voltage_v; names alike up to the first underscore are
one source. At a quarter, half and three quarters of each load, its past says how far off the mean of the
rest may be; constants are judged by how likely that makes what came, and every source counts the same.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from half_cells import Array

sys.path.append(str(Path(__file__).parent / "judgements"))

from judging import show
from owners import draw_day, draw_owner, seeds, stream
from patchy_mowing import mow
from scipy.signal import lfilter
from scipy.stats import t

from estimator.predictor.simulation import load_memory
from estimator.predictor.simulation.future_load import evenly

AT = (0.25, 0.5, 0.75)
CHOICES = {
    "OCTAVE_STD": (0.2, 0.4, 0.7, 1.2),
    "ELSEWHERE": (0.0, 0.4, 0.8),
    "MOST_ELSEWHERE": (0.03, 0.05, 0.09),
}
LEAST_S = 600


def walked(owners: int) -> list[Array]:
    """Power [W] second by second of lawns mown until the charge is used up, two days for each owner."""
    loads = []
    for seed in seeds("open", owners):
        owner, rng = draw_owner(seed, "nmc"), stream(seed, 99)
        for _ in range(2):
            field = owner.fields[int(rng.integers(len(owner.fields)))]
            loads.append(
                mow(rng, owner.crew, [field], draw_day(rng), least_j=0.95 * owner.joules(owner.label_ah))[0]
            )
    return loads


def forgetting(seconds: float, count: int = 25) -> list[Array]:
    """Loads [W] of an hour whose logarithm has a memory of so many seconds."""
    rng, keep = np.random.default_rng(5), np.exp(-1 / seconds)
    noise = rng.normal(size=(count, 5600))
    return list(400 * np.exp(0.25 * lfilter([np.sqrt(1 - keep**2)], [1, -keep], noise, axis=1)[:, 2000:]))


def recorded(folder: Path) -> dict[str, list[Array]]:
    """Power [W] second by second of the tables in a folder that are long enough and not a steady load."""
    sources: dict[str, list[Array]] = {}
    for path in sorted(folder.glob("*.csv")):
        table = pd.read_csv(path)
        if not {"time_s", "current_a", "voltage_v"} <= set(table):
            continue
        watts = table.current_a * table.voltage_v.mean()  # what follows the voltage is learned elsewhere
        power = evenly(table.time_s.to_numpy(), watts.to_numpy(), 1.0)
        if len(power) > LEAST_S and np.std(power) > 0.1 * np.mean(power) > 0:
            sources.setdefault(path.name.split("_")[0], []).append(power)
    return sources


def likelihood(loads: list[Array]) -> tuple[float, float, float]:
    """Mean log likelihood of the means that came, how often the 90 % bands held, and their mean width."""
    rows = []
    for power in loads:
        for part in AT:
            now = int(part * len(power))
            past, seconds = power[:now], np.arange(now) + 0.5
            known = load_memory.remember(past, np.ones(now), 1.0, seconds, past, np.ones(now))
            off = float(np.log(power[now:].mean() / known.mean_w))
            std = max(known.level_std(len(power) - now), 1e-3)
            half = t.ppf(0.95, known.freedom) * std
            rows.append((t.logpdf(off / std, known.freedom) - np.log(std), abs(off) < half, 2 * half))
    return tuple(float(v) for v in np.mean(rows, axis=0))  # type: ignore[return-value]


def main() -> None:
    """Judge every choice of constants on every source, then leave out each source in turn."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("folder", nargs="?", type=Path)
    ask.add_argument("--owners", type=int, default=24)
    said = ask.parse_args()
    sources = {"walked": walked(said.owners), "30 s": forgetting(30), "120 s": forgetting(120)}
    sources |= recorded(said.folder) if said.folder else {}
    names, found = list(sources), {}
    for choice in itertools.product(*CHOICES.values()):
        for name, value in zip(CHOICES, choice, strict=True):
            setattr(load_memory, name, value)
        found[choice] = {name: likelihood(loads) for name, loads in sources.items()}
    lines = []
    for left_out in ("", *names):
        best = max(found, key=lambda c: sum(found[c][name][0] for name in names if name != left_out))
        on = found[best].get(left_out)
        lines.append((left_out or "none", *map(str, best), *(on[1:] if on else ("", ""))))
    show("chosen without", ("source", *CHOICES, "then held", "width"), lines)


if __name__ == "__main__":
    main()
