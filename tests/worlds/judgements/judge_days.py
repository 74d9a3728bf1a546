"""How well odds of finishing and recommended packs do in this world."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
from days_to_come import days_asked, exact_need
from judging import Row, as_log, as_pack, figures, show
from owners import draw_owner, seeds
from seasons_of_mows import Season, make_seasons

import estimator as est

AT_ONCE = 12
SURE = 0.95
BINS = (0.0, 0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 1.0)


def chemistry_of(seed: int) -> str:
    """Two packs of three are NMC."""
    return "lfp" if seed // 2 % 3 == 2 else "nmc"


def seasons_of(half: str, count: int, mows: int) -> Iterator[Season]:
    """Seasons of a half, simulated a dozen at a time."""
    every = seeds(half, count)
    for first in range(0, count, AT_ONCE):
        yield from make_seasons(
            [draw_owner(s, chemistry_of(s)) for s in every[first : first + AT_ONCE]], mows
        )


def mows_of(season: Season, tag: str = "changed") -> list[est.Mow]:
    """The season as the owner would describe it."""
    owner = season.owner
    machine = est.Machine(
        cutting_width_m=round(owner.crew.width_m, 2), blade_care=tuple(d.date() for d in season.care)
    )
    pack = as_pack(owner)
    return [
        est.Mow(
            as_log(columns),
            lawn=est.Lawn(outing.field.name, area_m2=outing.field.area_m2),
            grass=est.Grass(moisture=outing.moisture, growth_mm=outing.growth_mm),
            pack=pack,
            machine=machine,
            start_charge=outing.plan.told,
            temperature_c=outing.plan.air_c if owner.knows_air else None,
            started=outing.started,
            tags=("stopped short",) * cut + (tag,) * outing.changed,
        )
        for columns, outing, cut in zip(season.logs, season.outings, season.cut, strict=True)
    ]


def fitted_of(season: Season, mows: list[est.Mow]) -> est.FittedPack:
    """The pack after all mows of the season."""
    air = float(np.mean([o.plan.air_c for o in season.outings])) if season.owner.knows_air else None
    return est.fit_pack(
        [m.log for m in mows],
        as_pack(season.owner),
        start_charges=[m.start_charge for m in mows],
        temperature_c=air,
    )


def days_since_care(season: Season) -> float | None:
    """Days since blade care, as the owner would say on the day after the season."""
    return float((season.day_after - season.care[-1]).days) if season.care else None


def judge_odds(half: str, count: int, mows: int, days: int = 12) -> list[Row]:
    """A row for each lawn of each day asked about."""
    rows: list[Row] = []
    for season in seasons_of(half, count, mows):
        rows += odds_after(season, days)
        print(".", end="", flush=True)
    print()
    return rows


def odds_after(season: Season, days: int) -> list[Row]:
    """A row for each lawn on so many days after one season."""
    rows: list[Row] = []
    owner, of = season.owner, mows_of(season)
    profile, fitted = est.fit_profile(of, machine=of[0].machine), fitted_of(season, of)
    for day in days_asked(season, days):
        began = time.process_time()
        said = est.lawns_per_charge(
            profile,
            fitted,
            lawns=[est.Lawn(f.name, area_m2=f.area_m2) for f in day.fields],
            grass=est.Grass(moisture=day.moisture, growth_mm=day.growth_mm),
            temperature_c=day.air_c if owner.knows_air else None,
            days_since_care=days_since_care(season),
        )
        about = {
            "seed": owner.seed,
            "chemistry": owner.chemistry,
            "seconds": time.process_time() - began,
        }
        rows += [
            {**about, "said": float(odds), "came": came}
            for odds, came in zip(said.odds, day.finished, strict=True)
        ]
    return rows


def show_odds(rows: list[Row]) -> None:
    """Odds as said and as they came, in bins of what was said."""
    said, came = figures(rows, "said"), figures(rows, "came")
    which = np.clip(np.digitize(said, BINS[1:-1]), 0, len(BINS) - 2)
    lines = []
    for k in range(len(BINS) - 1):
        part = which == k
        if part.any():
            off = float(came[part].mean() - said[part].mean())
            owners = len({r["seed"] for r, p in zip(rows, part, strict=True) if p})
            lines.append(
                (f"{BINS[k]:.2f}-{BINS[k + 1]:.2f}", int(part.sum()), owners, float(said[part].mean()),
                 float(came[part].mean()), off)
            )  # fmt: skip
    show("odds of finishing", ("said", "n", "seasons", "mean said", "came", "came - said"), lines)
    brier = float(np.mean((said - came) ** 2))
    print(f"Brier score {brier:.3f}; {np.median(figures(rows, 'seconds')):.2f} s a question")


def judge_capacity(half: str, count: int, mows: int) -> list[Row]:
    """A row for each season: recommended pack over exact need, and how often that pack would finish."""
    rows: list[Row] = []
    for season in seasons_of(half, count, mows):
        rows.append(capacity_after(season))
        print(".", end="", flush=True)
    print()
    return rows


def capacity_after(season: Season, days: int = 80) -> Row:
    """The pack recommended after one season, over the exact need of so many days."""
    owner, need = season.owner, exact_need(season, days)
    of = mows_of(season)
    profile, fitted = est.fit_profile(of, machine=of[0].machine), fitted_of(season, of)
    began = time.process_time()
    found = est.recommend_capacity(
        profile,
        fitted,
        lawns=[est.Lawn(f.name, area_m2=f.area_m2) for f in need.fields],
        grass=est.Grass(moisture=need.moisture, growth_mm=need.growth_mm),
        sure=SURE,
        capacity_at_end=0.8,
        reserve=0.1,
        coldest_c=need.coldest_c,
    )
    exact = float(np.quantile(need.needs_ah, SURE))
    return {
        "seed": owner.seed,
        "chemistry": owner.chemistry,
        "exact": exact,
        "ratio": found.capacity_ah / exact,
        "certainty": float(np.mean(need.needs_ah <= found.capacity_ah)),
        "too small": found.capacity_ah < exact,
        "seconds": time.process_time() - began,
    }


def show_capacity(rows: list[Row]) -> None:
    """The share of packs that are too small, and by how much packs are too large."""
    lines = []
    for name in ("nmc", "lfp", "all"):
        part = [r for r in rows if name in ("all", r["chemistry"])]
        if part:
            ratio, sure = figures(part, "ratio"), figures(part, "certainty")
            lines.append(
                (name, len(part), float(figures(part, "too small").mean()), float(np.median(ratio)),
                 float(np.quantile(ratio, 0.95)), float(ratio.min()), float(ratio.max()), float(sure.min()),
                 float((sure < 0.9).mean()), float(np.median(figures(part, "seconds"))))
            )  # fmt: skip
    show(
        "recommended capacity over the exact need",
        ("", "n", "too small", "median", "95th", "least", "most", "least certainty", "under .90", "s"),
        lines,
    )
