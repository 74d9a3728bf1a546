"""How well a pack fit and minutes left do: capacity and its band, minutes said half-way, computing time."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import timedelta

import numpy as np
from judging import HALF_90, Row, as_log, as_pack, figures, grouped, interval_score, rms, share, show
from owners import SEASON, Owner, draw_owner, seeds, stream
from pack_trials import Made, draw_plan, make_mows, true_capacity_ah

import estimator as est

AT_ONCE = 32
"""How many packs are simulated at a time; more need more memory."""
HISTORY, ASKED = 7, 8  # purposes of random numbers
TESTS = 2


def kind_of(seed: int) -> tuple[str, bool]:
    """The chemistry of a seed's pack, and whether its history holds a discharge on purpose."""
    return ("nmc", "lfp")[seed // 2 % 2], bool(seed // 4 % 2)


def judge_packs(half: str, packs: int, mows: int, chemistry: str | None = None) -> list[Row]:
    """A row for each pack's capacity and one for each question about minutes."""
    rows: list[Row] = []
    made_s = 0.0
    every = seeds(half, packs)
    for first in range(0, packs, AT_ONCE):
        began = time.process_time()
        some = every[first : first + AT_ONCE]
        owners = [draw_owner(seed, kind_of(seed)[0]) for seed in some]
        truth = true_capacity_ah(owners)
        plans = [
            draw_plan(owners, k, j, HISTORY, truth[k], full=j == 0 and kind_of(o.seed)[1])
            for k, o in enumerate(owners)
            for j in range(mows)
        ]
        asked = [
            draw_plan(owners, k, j, ASKED, truth[k], to_the_end=True)
            for k in range(len(owners))
            for j in range(TESTS)
        ]
        history, later = make_mows(owners, plans, HISTORY), make_mows(owners, asked, ASKED)
        made_s += time.process_time() - began
        for k, owner in enumerate(owners):
            rows += one_pack(
                owner,
                truth[k],
                [m for m in history if m.plan.owner == k],
                [m for m in later if m.plan.owner == k],
                chemistry,
            )
            print(".", end="", flush=True)
    print(f"\n{packs} packs of {mows} mows made in {made_s:.0f} s")
    return rows


def one_pack(
    owner: Owner, truth_ah: float, history: list[Made], later: list[Made], chemistry: str | None
) -> list[Row]:
    """Fit on the history, then ask about the later mows."""
    rated = as_pack(owner, chemistry)
    logs = [
        replace(as_log(m.columns), started=SEASON + timedelta(weeks=week)) for week, m in enumerate(history)
    ]
    air = float(np.mean([m.plan.air_c for m in history])) if owner.knows_air and history else None
    began = time.process_time()
    fitted = est.fit_pack(logs, rated, start_charges=[m.plan.told for m in history], temperature_c=air)
    seconds = time.process_time() - began
    off, std = fitted.capacity_ah / truth_ah - 1, fitted.capacity_std_ah / truth_ah
    about: Row = {
        "seed": owner.seed,
        "chemistry": owner.chemistry,
        "on purpose": kind_of(owner.seed)[1],
        "cut-off seen": any(m.cut for m in history),
        "aged": owner.health < 0.95,
        "make": owner.make.name,
    }
    rows: list[Row] = [
        {
            **about,
            "of": "capacity",
            "off": off,
            "label": owner.label_ah / truth_ah - 1,
            "std": std,
            "z": off / std,
            "held": abs(off) <= HALF_90 * std,
            "far": abs(off) > 3 * std,
            "seconds": seconds,
            "score": interval_score(off - HALF_90 * std, off + HALF_90 * std, 0.0),
        }
    ]
    if (usable := getattr(fitted, "usable_ah", None)) is not None:
        true = float(np.median([m.usable_ah for m in later if m.plan.told == 1.0] or [np.nan]))
        rows[0]["usable off"] = usable / true - 1
    for number, m in enumerate(later):
        held = stream(owner.seed, ASKED, 99, number).uniform(0.3, 0.8) * truth_ah
        of_mow = int(np.searchsorted(m.drawn_ah, held))
        for at, end in (("half of the mow", min(of_mow, m.cut_s)), ("half of the charge", m.cut_s)):
            now = end // 2
            if now < 180:
                continue
            log = as_log(m.until(now))
            told_c = m.plan.air_c if owner.knows_air else None
            began = time.process_time()
            said = est.minutes_left(log, fitted, start_charge=m.plan.told, temperature_c=told_c)
            seconds, left, whole = time.process_time() - began, (m.cut_s - now) / 60, m.cut_s / 60
            rows.append(
                {
                    **about,
                    "of": "minutes",
                    "at": at,
                    "left": left,
                    "said": said.minutes,
                    "low": said.low,
                    "high": said.high,
                    "miss": abs(said.minutes - left) / whole,
                    "held": said.low <= left <= said.high,
                    "under": left < said.low,
                    "width": (said.high - said.low) / whole,
                    "seconds": seconds,
                    "score": interval_score(said.low, said.high, left) / whole,
                }
            )
    return rows


def _usable(rows: list[Row]) -> float | str:
    """Root mean square error of the usable Ah, where they are known."""
    known = [r for r in rows if np.isfinite(float(r.get("usable off", np.nan)))]
    return rms(figures(known, "usable off")) if known else "-"


def show_packs(rows: list[Row]) -> None:
    """Tables by chemistry, by what the history holds, by age, and over all."""
    groups = {
        **{
            f"{c}, {'one full discharge' if p else 'mows only'}": (
                lambda r, c=c, p=p: r["chemistry"] == c and r["on purpose"] == p
            )
            for c in ("nmc", "lfp")
            for p in (False, True)
        },
        "no cut-off seen": lambda r: not r["cut-off seen"],
        "cut-off seen": lambda r: bool(r["cut-off seen"]),
        "nearly new": lambda r: not r["aged"],
        "aged": lambda r: bool(r["aged"]),
        "all": lambda r: True,
    }
    capacity = [r for r in rows if r["of"] == "capacity"]
    show(
        "capacity of a slow discharge at 25 °C, relative to the truth",
        ("", "n", "rms off", "label", "claimed", "held", "|z|>3", "score", "usable off", "s a fit"),
        [
            (
                name,
                len(part),
                rms(figures(part, "off")),
                rms(figures(part, "label")),
                float(np.median(figures(part, "std"))),
                share(part, "held"),
                share(part, "far"),
                float(np.mean(figures(part, "score"))),
                _usable(part),
                float(np.median(figures(part, "seconds"))),
            )
            for name, part in grouped(capacity, groups)
        ],
    )
    minutes = [r for r in rows if r["of"] == "minutes"]
    groups |= {at: (lambda r, at=at: r["at"] == at) for at in ("half of the mow", "half of the charge")}
    show(
        "minutes left, relative to the whole time to the cut-off",
        ("", "n", "median miss", "90th", "held", "under", "width", "score", "s median", "s worst"),
        [
            (
                name,
                len(part),
                float(np.median(figures(part, "miss"))),
                float(np.quantile(figures(part, "miss"), 0.9)),
                share(part, "held"),
                share(part, "under"),
                float(np.median(figures(part, "width"))),
                float(np.mean(figures(part, "score"))),
                float(np.median(figures(part, "seconds"))),
                float(np.max(figures(part, "seconds"))),
            )
            for name, part in grouped(minutes, groups)
        ],
    )
