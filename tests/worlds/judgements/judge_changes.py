"""How well comparisons and pack life do: false alarms, changes found, forecasts of fading.

Only the two adapters at the top know how the estimator is asked; where it changes, change them.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from balanced_cells import joined
from days_to_come import m2_per_charge
from discharging import slow_capacity_ah
from half_cells import Array
from judge_days import chemistry_of, mows_of
from judging import Row, as_file, as_pack, figures, share, show
from owners import Owner, draw_owner, hurried, seeds, stream
from patchy_mowing import Day, walk
from scipy.optimize import brentq
from seasons_of_mows import Change, Season, make_seasons

import estimator as est

AHEAD = 24
"""How many mows after the last one the forecast is for."""
PLANTED = 0.20
AT_ONCE = 20


def said_changes(mows: Sequence[est.Mow], later: Sequence[bool]) -> dict[str, tuple[float, bool]]:
    """Adapter: what is said of the mows where `later` is true, compared with the others.

    Returns for energy and pace the change (fraction) and whether it is called more than noise.
    """
    from estimator.fitting.load.features import mow_features
    from estimator.fitting.seasons import measures
    from estimator.fitting.seasons.comparisons import compare_groups

    features = [mow_features(mow) for mow in mows]
    found = {}
    for measure in (measures.ENERGY, measures.PACE):
        seen = measures.observed(measure, features)  # not every mow shows every measure
        labels = ["after" if later[one.place] else "before" for one in seen]
        if len(set(labels)) < 2:
            found[measure.name] = (0.0, False)
            continue
        compared = compare_groups(
            measure,
            seen,
            labels,
            later="after",
        )
        found[measure.name] = (compared.changes[0].change, compared.changes[0].more_than_noise)
    return found


@dataclass(frozen=True)
class SaidLife:
    """Capacity [Ah] forecast for `AHEAD` mows on, with its 90 % band; the last mow, infinite if none."""

    capacity_ah: float
    low_ah: float
    high_ah: float
    last_mow: float
    under_now: bool


def said_life(season: Season, mows: Sequence[est.Mow], lawn: est.Lawn, grass: est.Grass) -> SaidLife:
    """Adapter: the forecast for a pack whose mows were added to a logbook one by one."""
    from estimator import logbook as kept
    from estimator.answers.keeping.keep import Circumstances, add_mow
    from estimator.answers.looking_back.pack_life import pack_life

    with tempfile.TemporaryDirectory() as folder, kept.open_logbook(Path(folder) / "own.sqlite") as book:
        kept.keep_pack(book, replace(as_pack(season.owner), name="crate"))
        for each in ({mow.lawn.name: mow.lawn for mow in mows} | {lawn.name: lawn}).values():
            kept.keep_lawn(book, each)
        for k, (mow, columns) in enumerate(zip(mows, season.logs, strict=True)):
            said = Circumstances(
                lawn=mow.lawn.name,
                pack="crate",
                grass=mow.grass,
                start_charge=mow.start_charge,
                temperature_c=mow.temperature_c,
                started=mow.started,
                tags=mow.tags,
            )
            add_mow(book, [(f"mow {k}.csv", as_file(columns))], said)
        fade = pack_life(book, (lawn.name,), pack="crate", grass=grass).forecast.fade
        at = [
            float(np.interp(len(mows) + AHEAD, fade.mows, v))
            for v in (fade.capacity_ah, fade.low_ah, fade.high_ah)
        ]
        return SaidLife(*at, last_mow=float(fade.mow), under_now=bool(fade.under_now))


def cut_factor(owner: Owner, change: float) -> float:
    """The factor on cutting energy that changes the energy of mowing usual grass by `change`."""
    usual = Day(growth_mm=25.0, wetness=0.2)

    def energy_j(factor: float) -> float:
        crew = replace(owner.crew, cut_j_m2=owner.crew.cut_j_m2 * factor)
        return sum(
            float(walk(np.random.default_rng(7), crew, field, usual)[0].sum()) for field in owner.fields
        )

    wanted = (1 + change) * energy_j(1.0)
    return float(brentq(lambda factor: energy_j(factor) - wanted, 0.1, 10.0, xtol=0.01))


def judge_comparisons(half: str, count: int, mows: int) -> list[Row]:
    """Rows for seasons of `mows` a side: by date and by tag with nothing changed, and a planted change."""
    rows: list[Row] = []
    every = seeds(half, count)
    for first in range(0, count, AT_ONCE):
        owners = [hurried(draw_owner(s, chemistry_of(s)), 0.5) for s in every[first : first + AT_ONCE]]
        signs = [1 if s // 2 % 2 else -1 for s in every[first : first + AT_ONCE]]
        planted = [Change(mows, cut_factor(o, sign * PLANTED)) for o, sign in zip(owners, signs, strict=True)]
        plain, changed = (
            make_seasons(owners, 2 * mows, 41),
            make_seasons(owners, 2 * mows, 41, changes=list(planted)),
        )
        for season, other in zip(plain, changed, strict=True):
            by_date = [k >= mows for k in range(2 * mows)]
            by_tag = list(stream(season.owner.seed, 42).permutation(by_date))
            for kind, of, later in (
                ("by date", season, by_date),
                ("by tag", season, by_tag),
                ("planted", other, by_date),
            ):
                for measure, (change, loud) in said_changes(mows_of(of), later).items():
                    rows.append(
                        {
                            "seed": of.owner.seed,
                            "kind": kind,
                            "measure": measure,
                            "change": change,
                            "loud": loud,
                        }
                    )
        print(".", end="", flush=True)
    print()
    return rows


def show_comparisons(rows: list[Row]) -> None:
    """False alarms at a nominal 10 %, and how often a change of 20 % in energy is found."""
    lines = []
    for kind in ("by date", "by tag", "planted"):
        for measure in sorted({str(r["measure"]) for r in rows}):
            part = [r for r in rows if r["kind"] == kind and r["measure"] == measure]
            lines.append(
                (
                    f"{kind}, {measure}",
                    len(part),
                    share(part, "loud"),
                    float(np.median(np.abs(figures(part, "change")))),
                )
            )
    show("called more than noise", ("", "n", "share", "median size"), lines)


def healths_of(owner: Owner, mows: int) -> tuple[Array, bool]:
    """Health at each mow up to the forecast's, and whether it fades: half of them lose 4 to 10 % in 24."""
    rng = stream(owner.seed, 51)
    fades = bool(rng.random() < 0.5)
    loss = rng.uniform(0.04, 0.10) / AHEAD if fades else 0.0
    return 0.99 - loss * np.arange(mows + AHEAD), fades


def judge_life(half: str, count: int, mows: int) -> list[Row]:
    """A row for each pack: the forecast 24 mows on, and the last mow for lawns that need most of it."""
    rows: list[Row] = []
    every = seeds(half, count)
    for first in range(0, count, AT_ONCE):
        owners = [
            hurried(draw_owner(s, chemistry_of(s), health=1.0), 0.6) for s in every[first : first + AT_ONCE]
        ]
        owners = [
            replace(o, fields=(o.fields[0], replace(o.fields[1], area_m2=1.25 * m2_per_charge(o))))
            for o in owners
        ]  # the second lawn uses every charge to its end
        courses = [healths_of(o, mows) for o in owners]
        seasons = make_seasons(owners, mows, 52, healths=[h[:mows] for h, _ in courses])
        then = joined([o.aged(h[-1]) for o, (h, _) in zip(owners, courses, strict=True)])
        truth = slow_capacity_ah(then, np.array([o.cut_off_v for o in owners]))
        for season, true_ah, (_, fades) in zip(seasons, truth, courses, strict=True):
            lawn = est.Lawn("the usual", area_m2=0.75 * m2_per_charge(season.owner))
            said = said_life(season, mows_of(season), lawn, est.Grass(moisture="dry", growth_mm=25))
            rows.append(
                {
                    "seed": season.owner.seed,
                    "fades": fades,
                    "off": said.capacity_ah / true_ah - 1,
                    "width": (said.high_ah - said.low_ah) / true_ah,
                    "held": said.low_ah <= true_ah <= said.high_ah,
                    "finite": math.isfinite(said.last_mow),
                    "under now": said.under_now,
                }
            )
            print(".", end="", flush=True)
    print()
    return rows


def show_life(rows: list[Row]) -> None:
    """How well the forecast held, and for how many packs it names a last mow."""
    lines = []
    for name, test in (("fading", True), ("not fading", False)):
        part = [r for r in rows if r["fades"] == test]
        if part:
            lines.append(
                (name, len(part), share(part, "held"), float(np.median(np.abs(figures(part, "off")))),
                 float(np.median(figures(part, "width"))), share(part, "finite"), share(part, "under now"))
            )  # fmt: skip
    heads = ("", "n", "held", "median off", "width", "a last mow", "under now")
    show(f"capacity {AHEAD} mows ahead, relative to the truth", heads, lines)
