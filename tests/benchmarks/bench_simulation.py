"""Speed and memory of the forward simulation, compared with a general solver in one run.

    python tests/benchmarks/bench_simulation.py

4,000 draws of a pack under a mowing load with a horizon of one hour: all at once by `simulate`, and one by
one by `scipy.integrate.solve_ivp` on the same equations (for a sample of the draws, scaled up).
"""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
from ratio import Ratio, beside
from scipy.integrate import solve_ivp

from estimator.descriptions import Pack
from estimator.fitting.pack.circuit import LAG_S, QUICK_S, SLOW
from estimator.fitting.pack.open_circuit import GRID
from estimator.fitting.pack.pack_draws import PackDraws, draw_pack
from estimator.fitting.pack.prior import STANDARD_K
from estimator.predictor.simulation.simulation import simulate

DRAWS, SECONDS, SAMPLE = 4000, 3600, 6
PACK = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)


def one_by_one(draws: PackDraws, i: int, power_w: np.ndarray) -> float:
    """Seconds to the cut-off of draw i by a general solver; the horizon where the cut-off is not reached."""
    tables, capacity = draws.tables[i].astype(float), draws.capacity_ah[i]
    shape, lag_h = draws.lag_shape[i].astype(float), draws.lag_h[:, i]
    slow_ah = float(draws.slow_share[i] * capacity)
    share, scale_v = float(draws.transfer_share[i]), draws.transfer_v_per_k * STANDARD_K

    def at(t: float, y: np.ndarray) -> tuple[float, float, float]:
        surface = y[0] - np.interp(y[0], GRID, shape) * float(lag_h @ y[2:])
        ohm, quick = np.interp(surface, GRID, tables[:, 1]), np.interp(surface, GRID, tables[:, 2])
        emf = np.interp(surface, GRID, tables[:, 0]) - y[1] - quick * slow_ah * y[2 + SLOW]
        watts = power_w[min(int(t), SECONDS - 1)]
        amps = watts / emf
        for _ in range(2):  # the chord of the charge transfer at this current, as in the simulation
            chord = ohm * (1 - share) + scale_v * np.arcsinh(share * ohm * amps / scale_v) / amps
            volts = (emf + np.sqrt(max(emf * emf - 4 * watts * chord, 0.0))) / 2
            amps = (emf - volts) / chord
        return volts, amps, quick

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        _, amps, quick = at(t, y)
        rate = amps / capacity
        return np.concatenate([[-rate / 3600, (quick * amps - y[1]) / QUICK_S], (rate - y[2:]) / LAG_S])

    def touch(t: float, y: np.ndarray) -> float:
        return at(t, y)[0] - PACK.cut_off_v

    touch.terminal = True  # type: ignore[attr-defined]
    start = np.concatenate([[draws.charge[i], draws.quick_v[i]], draws.rates_c[:, i]])
    found = solve_ivp(slope, (0, SECONDS), start, events=touch, max_step=1.0, rtol=1e-4)
    return float(found.t[-1])


def ratios() -> list[Ratio]:
    """The simulation compared with the solver, and its memory."""
    rng = np.random.default_rng(1)
    draws = draw_pack(PACK, DRAWS, rng)
    level = np.repeat(rng.lognormal(np.log(550.0), 0.3, SECONDS // 20), 20).astype(np.float32)
    power = np.broadcast_to(level, (DRAWS, SECONDS))
    began = time.process_time()
    ends = simulate(draws, level[None, :], 1.0, cut_off_v=PACK.cut_off_v).end_s
    shared_s = time.process_time() - began
    rolls = rng.integers(0, SECONDS, DRAWS)
    chunks = (
        np.stack([np.roll(level, -roll)[k : k + 300] for roll in rolls]) for k in range(0, SECONDS, 300)
    )
    began = time.process_time()
    simulate(draws, chunks, 1.0, cut_off_v=PACK.cut_off_v)
    own_s = time.process_time() - began
    tracemalloc.start()
    chunks = (power[:, k : k + 300] for k in range(0, SECONDS, 300))
    simulate(draw_pack(PACK, DRAWS, rng), chunks, 1.0, cut_off_v=PACK.cut_off_v)
    megabytes = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    began = time.process_time()
    theirs = np.array([one_by_one(draws, i, level) for i in range(SAMPLE)])
    solver_s = (time.process_time() - began) / SAMPLE * DRAWS
    ours = np.minimum(ends[:SAMPLE], SECONDS)
    apart_s = float(np.abs(ours - theirs).max())
    how = f"processor time, once, warm; the solver from {SAMPLE} draws, ends within {apart_s:.1f} s"
    return [
        Ratio(
            "4,000 futures of an hour", "`scipy.integrate.solve_ivp` one by one",
            max(own_s, shared_s) / solver_s, 1 / 300, how, beside(max(own_s, shared_s), solver_s),
        ),
        Ratio(
            "memory of them, with draws and loads", "100 MB", megabytes / 100, 1.0,
            "peak traced by `tracemalloc`, once", beside(megabytes, 100, "MB"),
        ),
    ]  # fmt: skip


if __name__ == "__main__":
    from table import show

    show(ratios())
