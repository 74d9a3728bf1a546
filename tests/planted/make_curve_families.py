"""Make `estimator/fitting/pack/curve_families.py`: open-circuit curves of cells whose electrodes are balanced
in many ways, as a mean and a few principal curves for each family.

    python tests/planted/make_curve_families.py

A curve is U(q) = U_pos(y_full + q/Q_pos) − U_neg(x_full − q/Q_neg) between the family's full and empty
volts. The half-cell functions are those of published parameter sets (from pybamm); `POSITIVES` and
`NEGATIVES` name them by paper, with the range of filling over which each fit is trusted. Beyond it they
continue by Nernst's logarithm. Cells of other makers differ by a smooth correction of `BENT_V`: published
sets of one family differ by so much once their balance is fitted. How full an electrode is when the pack is
full or empty is common practice; ageing shifts it in the same way (loss of lithium is a slip between the
electrodes: Birkl et al. 2017, J. Power Sources 341, 373). Lead-acid: Bode 1977, as quoted by Sulzer et al.
2019, with the acid of a full and of an empty block as uncertain as blocks differ (common practice).
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from estimator.fitting.pack.curve_families import CHARGE

Array = NDArray[np.float64]

TARGET = Path(__file__).parents[2] / "estimator" / "fitting" / "pack" / "curve_families.py"
CURVES, MODES = 600, 9
FILLING = np.linspace(-0.05, 1.15, 2401)
THERMAL_V = 0.0257
BENT_V = {"positive": 0.01, "lfp": 0.004, "negative": 0.005}
IRON_HIGHER_V = 0.022, 0.012
"""Prada's plateau lies at 3.40 V, as in discharge; at rest it is 3.42 to 3.43 V, by hysteresis higher after
charging (Dreyer et al. 2010, Nature Materials 9, 448, from memory), and packs are charged before a mow."""
BENT_AT = np.linspace(-0.1, 1.1, 9)

POSITIVES = {
    "nmc": {"Chen2020": (0.25, 0.93), "Ecker2015": (0.20, 0.955), "Mohtat2020": (0.02, 0.97)},
    "nca": {"NCA_Kim2011": (0.30, 0.99), "Chen2020": (0.25, 0.93)},
    "lco": {"Marquis2019": (0.40, 0.99), "Ramadass2004": (0.43, 0.885), "Ai2020": (0.40, 0.99)},
    "lfp": {"Prada2013": (0.004, 0.995)},
}
"""Chen's oxide, with eight tenths of nickel, is used for nmc and for nca (which has as much, from memory)."""
NEGATIVES = {
    "Chen2020": (0.005, 0.995), "Ecker2015": (0.002, 0.97), "Mohtat2020": (0.0015, 0.95),
    "NCA_Kim2011": (0.01, 0.95), "Marquis2019": (0.01, 0.99), "Ramadass2004": (0.01, 0.95),
    "Ai2020": (0.003, 0.99),
}  # fmt: skip
EMPTY_FULL_V = {"nmc": (2.5, 4.2), "nca": (2.5, 4.2), "lco": (2.5, 4.2), "lfp": (2.0, 3.6)}


def potential_v(name: str, side: str, believed: tuple[float, float]) -> Array:
    """Potential [V against lithium] of a published electrode over `FILLING`, falling everywhere."""
    import pybamm

    low, high = believed
    values = pybamm.ParameterValues(name)
    places = pybamm.Vector(np.clip(FILLING, low, high))
    volts = values.process_symbol(values[f"{side} electrode OCP [V]"](places)).evaluate().ravel()
    inside = np.clip(FILLING, 0.0005, 0.9995)
    volts = volts + 2 * THERMAL_V * np.log(np.maximum(low / inside, 1))
    volts = volts - 2 * THERMAL_V * np.log(np.maximum((1 - high) / (1 - inside), 1))
    return falling(volts - 60.0 * (FILLING - inside))  # beyond its ends nothing can go in or out


def falling(volts: Array) -> Array:
    return np.asarray(np.minimum.accumulate(volts) - 1e-7 * np.arange(len(volts)))


def of_another_maker(volts: Array, sigma_v: float, rng: np.random.Generator) -> Array:
    bumps = CubicSpline(BENT_AT, sigma_v * rng.standard_normal(len(BENT_AT)))
    return falling(volts + bumps(np.clip(FILLING, 0, 1)))


def with_sharper_end(volts: Array, rng: np.random.Generator) -> Array:
    """LFP with a later fall as it fills: the published fit falls unusually early, finer particles later."""
    left = 1 - FILLING
    drawn = np.exp(rng.uniform(np.log(0.15), np.log(1.2)))
    return falling(np.interp(1 - np.where(left > 0, np.minimum(left / drawn, 1), left), FILLING, volts))


def balanced(
    positive: Array, negative: Array, volts: tuple[float, float], filled: tuple[float, float]
) -> Array:
    """Open-circuit volts at `CHARGE` of a cell with these electrodes.

    volts : of the cell when empty and when full
    filled : how full the negative is in a full cell, and the positive when the negative is empty
    """
    x_full, y_most = filled
    y_full = np.interp(-(volts[1] + np.interp(x_full, FILLING, negative)), -positive, FILLING)
    ratio = x_full / max(y_most - y_full, 0.2)  # capacity of the positive over that of the negative
    x = np.linspace(-0.02, x_full + 0.02, 1500)
    cell = np.interp(y_full + (x_full - x) / ratio, FILLING, positive) - np.interp(x, FILLING, negative)
    cell = np.maximum.accumulate(cell) + 1e-9 * np.arange(len(cell))
    x_empty = np.interp(volts[0], cell, x)
    return np.interp(CHARGE, (x - x_empty) / (x_full - x_empty), cell)


def ensemble(family: str, n: int = CURVES, seed: int = 1, left_out: str = "") -> Array:
    """Open-circuit curves [V] of one family (n, charges), without the published set `left_out`."""
    rng = np.random.default_rng(seed)
    if family == "lead_acid":
        full, empty = rng.normal(5650.0, 350.0, n), rng.normal(1200.0, 250.0, n)
        return lead_acid_v(empty[:, None] + (full - empty)[:, None] * CHARGE)
    positives, negatives = (
        {name: potential_v(name, side, believed) for name, believed in sets.items() if name != left_out}
        for side, sets in (("Positive", POSITIVES[family]), ("Negative", NEGATIVES))
    )
    out = np.empty((n, len(CHARGE)))
    flat = family == "lfp"
    empty_v, full_v = EMPTY_FULL_V[family]
    for row in out:
        positive = positives[str(rng.choice(list(positives)))]
        negative = negatives[str(rng.choice(list(negatives)))]
        positive = with_sharper_end(positive, rng) if flat else positive
        positive = positive + rng.normal(*IRON_HIGHER_V) if flat else positive
        positive = of_another_maker(positive, BENT_V["lfp" if flat else "positive"], rng)
        negative = of_another_maker(negative, BENT_V["negative"], rng)
        filled = rng.uniform(0.65, 0.97), rng.uniform(*((0.70, 1.03) if flat else (0.82, 1.06)))
        volts = (
            empty_v,
            full_v - rng.uniform(0, 0.15 if flat else 0.06),
        )  # chargers stop lower, and packs relax afterwards
        row[:] = balanced(positive, negative, volts, filled)
    return out


def papers_own_v(name: str, volts: tuple[float, float]) -> Array:
    """Open-circuit volts at `CHARGE` of a published cell as its own paper balances it, between two volts."""
    import pybamm

    values = pybamm.ParameterValues(name)
    x_empty, x_full, y_full, y_empty = pybamm.lithium_ion.get_min_max_stoichiometries(values)
    believed = {name: each for sets in POSITIVES.values() for name, each in sets.items()}[name]
    positive = potential_v(name, "Positive", believed)
    negative = potential_v(name, "Negative", NEGATIVES.get(name, NEGATIVES["Chen2020"]))
    part = np.linspace(-0.05, 1.05, 1500)
    cell = np.interp(y_empty + part * (y_full - y_empty), FILLING, positive)
    cell = cell - np.interp(x_empty + part * (x_full - x_empty), FILLING, negative)
    cell = np.maximum.accumulate(cell) + 1e-9 * np.arange(len(cell))
    empty, full = np.interp((volts[0], min(volts[1], cell[-1])), cell, part)
    return np.interp(empty + CHARGE * (full - empty), part, cell)


def lead_acid_v(acid: Array) -> Array:
    """Volts of a cell by Bode's fits of the two electrode potentials at the acid's molality, for acid
    [mol/m³]; volumes and masses as in Sulzer 2019."""
    water_volume, acid_volume, water_mass = 1.75e-5, 4.50e-5, 0.01801
    m = np.log10(acid * water_volume / ((1 - acid * acid_volume) * water_mass))
    lead_dioxide = 1.628 + 0.074 * m + 0.033 * m**2 + 0.043 * m**3 + 0.022 * m**4
    lead = -0.294 - 0.074 * m - 0.030 * m**2 - 0.031 * m**3 - 0.012 * m**4
    return np.asarray(lead_dioxide - lead)


def mean_and_modes(curves: Array) -> Array:
    """(1 + MODES, charges): the mean, and principal curves to be multiplied with standard normal numbers."""
    mean = curves.mean(axis=0)
    _, size, along = np.linalg.svd(curves - mean, full_matrices=False)
    modes = along[:MODES] * size[:MODES, None] / np.sqrt(len(curves))
    return np.vstack([mean, modes * np.where(modes.sum(axis=1) < 0, -1, 1)[:, None]])


def families() -> dict[str, Array]:
    """Mean and modes [V] of every chemistry."""
    warnings.simplefilter("ignore")
    curves = {name: ensemble(name) for name in (*POSITIVES, "lead_acid")}
    curves["lithium"] = np.concatenate([curves[name] for name in ("nmc", "nca", "lco")])
    return {name: mean_and_modes(each) for name, each in curves.items()}


def written(found: dict[str, Array]) -> str:
    """The text of the module."""
    parts = []
    for name, rows in found.items():
        lines: list[str] = []
        for row in filter(np.any, np.rint(rows * 1e4).astype(int)):
            line = ""
            for number in map(str, row):
                if len(line) + len(number) > 108:
                    lines.append(line)
                    line = ""
                line += f" {number}" if line else number
            lines.append(line)
        parts.append(f'    "{name}": """\n' + "\n".join(lines) + '\n""",\n')
    text = TARGET.read_text()
    return text[: text.index("FAMILIES = ")] + "FAMILIES = {\n" + "".join(parts) + "}\n"


if __name__ == "__main__":
    TARGET.write_text(written(families()))
