"""Make the discharges in `truths/`: an electrochemical model (pybamm) under an invented mowing load.

    python tests/predictor/make_truths.py

NMC: Chen et al. 2020, doi 10.1149/1945-7111/ab9050, 13 in series, 2 side by side. LFP: Prada et al. 2013,
doi 10.1149/2.053304jes, 15 in series, 4 side by side. Single-particle model with electrolyte, at one
temperature each, from full and from 60 %, until a cell reaches its lowest voltage. Power changes every 5 s,
joined by straight lines: turns, straight rows and thick patches, all invented. Files: time_s, current_a and
voltage_v of the pack.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pybamm

HERE = Path(__file__).parent / "truths"
STEP_S = 5.0
PACKS = {"nmc": ("Chen2020", 13, 2, 2.8), "lfp": ("Prada2013", 15, 4, 2.5)}


def mowing_power(rng: np.random.Generator, steps: int) -> np.ndarray:
    """Invented power [W] at every step: rows of about a minute, short turns, patches with twice the load."""
    level, out = 350.0 * rng.uniform(0.9, 1.1), []
    while len(out) < steps:
        row = rng.integers(8, 18)
        base = level * rng.lognormal(0.0, 0.15)
        out += list(base * rng.lognormal(0.0, 0.12, row))
        out += [level * 0.3] * int(rng.integers(1, 3))
        if rng.random() < 0.15:
            out += [level * rng.uniform(1.6, 2.2)] * int(rng.integers(1, 4))
    return np.array(out[:steps])


def discharge(chemistry: str, temperature_c: float, charge: float, seed: int) -> np.ndarray:
    """(n, 3) time [s], current [A] and voltage [V] of the pack until the cut-off."""
    name, series, parallel, lowest = PACKS[chemistry]
    power = mowing_power(np.random.default_rng(seed), 2400)
    values = pybamm.ParameterValues(name)
    values["Ambient temperature [K]"] = values["Initial temperature [K]"] = temperature_c + 273.15
    values["Lower voltage cut-off [V]"] = lowest
    middles = STEP_S * (np.arange(len(power)) + 0.5)
    values["Power function [W]"] = pybamm.Interpolant(middles, power / series / parallel, pybamm.t)
    model = pybamm.lithium_ion.SPMe({"operating mode": "power"})
    values.set_initial_state(charge)
    points = {"r_n": 12, "r_p": 12, "x_n": 8, "x_s": 8, "x_p": 8}
    run = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver(), var_pts=points)
    found = run.solve([0.0, middles[-1]], t_interp=middles)
    t = np.asarray(found.t)
    middle = t[np.isclose((t - STEP_S / 2) % STEP_S, 0.0)]
    middle = np.append(middle, t[-1]) if t[-1] - middle[-1] > 0.2 else middle
    current = found["Current [A]"](middle) * parallel
    voltage = found["Voltage [V]"](middle) * series
    return np.stack([middle - middle[0], current, voltage], axis=1)


def main() -> None:
    HERE.mkdir(exist_ok=True)
    for chemistry in PACKS:
        for temperature_c in (25, 10):
            for charge in (100, 60):
                for seed in range(3):
                    rows = discharge(
                        chemistry, temperature_c, charge / 100, 100 * temperature_c + charge + seed * 7
                    )
                    path = HERE / f"{chemistry}_{temperature_c}c_{charge}_{seed}.csv"
                    np.savetxt(
                        path, rows, fmt="%.1f,%.3f,%.3f", header="time_s,current_a,voltage_v", comments=""
                    )
                    print(path.name, len(rows), rows[-1])


if __name__ == "__main__":
    main()
