"""How well the answers of somebody who logs nothing do: mean current, charge, minutes, the pack to buy."""

from __future__ import annotations

import os
import pickle
import tempfile
import time
from pathlib import Path

import numpy as np
from days_to_come import Need
from hand_mows import CHEMISTRIES
from hand_readers import Notes
from hand_seasons import HandSeason, make_season, need_of
from judging import Row, figures, share, show
from owners import seeds

import estimator as est
from estimator.fitting.by_hand.habit import learn_habits
from estimator.fitting.by_hand.pack_by_hand import learn_by_hand
from estimator.importer.by_hand.spot_notes import log_from_spot

AFTER = (1, 5, 20)
SURE = 0.95
HALF_90 = 1.6449


def season_and_need(seed: int, chemistry: str) -> tuple[HandSeason, Need]:
    """One person's twenty mows and the exact need; kept for the next run where a folder is named for that."""
    folder = Path(os.environ.get("HAND_SEASONS", tempfile.gettempdir()))
    kept = folder / f"hand-season-{seed}-{chemistry}.pickle"
    if "HAND_SEASONS" in os.environ and kept.exists():
        return pickle.loads(kept.read_bytes())
    season = make_season(seed, chemistry, max(AFTER))
    made = season, need_of(season)
    if "HAND_SEASONS" in os.environ:
        kept.write_bytes(pickle.dumps(made))
    return made


def as_spot(notes: Notes) -> est.SpotNotes:
    """What the person wrote, as the library takes it."""
    share_of = lambda percent: None if percent is None else percent / 100  # noqa: E731
    return est.SpotNotes(
        typical_a=notes.typical_a, idle_a=notes.idle_a, highest_a=notes.highest_a, minutes=notes.minutes,
        load_v=notes.load_volts_v, rest_before_v=notes.volts_before_v, rest_after_v=notes.volts_after_v,
        rested_minutes=notes.rested_after_min, gauge_before=share_of(notes.gauge_before),
        gauge_after=share_of(notes.gauge_after), socket_wh=notes.socket_wh, put_back_wh=notes.pack_wh,
        put_back_ah=notes.put_back_ah,
    )  # fmt: skip


def pack_of(season: HandSeason) -> est.Pack:
    """The pack by its label."""
    owner = season.owner
    return est.Pack(
        chemistry=owner.chemistry.replace("-", "_"), series=owner.series, capacity_ah=owner.label_ah,
        cut_off_v=owner.cut_off_v, hold_s=owner.hold_s,
    )  # fmt: skip


def mow_of(season: HandSeason, k: int) -> est.Mow:
    """One mow as the person would describe it."""
    notes, true = season.notes[k], season.truths[k]
    return est.Mow(
        log_from_spot(as_spot(notes)),
        lawn=est.Lawn(notes.lawn, area_m2=notes.area_m2 or true.area_m2),
        grass=est.Grass(moisture=notes.moisture, growth_mm=notes.growth_mm),
        pack=pack_of(season),
        start_charge=notes.start_charge,
        tags=("stopped short",) * true.cut,
    )


def judge_hands(half: str, count: int, mows: int) -> list[Row]:
    """Rows for the last of 1, 5 and 20 mows (up to `mows`), and for the pack recommended after them."""
    rows: list[Row] = []
    for seed in seeds(half, count):
        for chemistry in CHEMISTRIES:
            rows += one_person(*season_and_need(seed, chemistry), chemistry, mows)
            print(".", end="", flush=True)
    print()
    return rows


def one_person(season: HandSeason, need: Need, chemistry: str, mows: int) -> list[Row]:
    """Everything asked of one season."""
    rows: list[Row] = []
    fitted: est.Pack = pack_of(season)
    features = []
    for k in range(mows):
        about: Row = {
            "seed": season.owner.seed,
            "chemistry": chemistry,
            "habit": season.habit,
            "after": k + 1,
        }
        notes, true = season.notes[k], season.truths[k]
        spot = as_spot(notes)
        try:
            mow = mow_of(season, k)
        except est.InputError:
            if k + 1 in AFTER:
                rows.append({**about, "of": "refused"})
            mow = None
        if mow is not None and k + 1 in AFTER:
            rows.append({**about, **_of_mow(spot, notes, true, fitted, features)})
        if mow is not None:
            features.append(est.mow_features(mow))
            fitted = learn_by_hand(fitted, spot, notes.start_charge)
        if k + 1 in AFTER:
            rows.append({**about, **_of_pack(season, need, fitted, features)})
    return rows


def _of_mow(spot: est.SpotNotes, notes: Notes, true: object, fitted: est.Pack, earlier: list) -> Row:
    began = time.process_time()
    profile = est.fit_profile(earlier) if earlier else None
    habit = learn_habits(earlier).of(None, notes.lawn)
    used = est.spot_charge(spot, fitted, notes.start_charge, habit=habit)
    left = est.minutes_left_by_hand(spot, fitted, notes.start_charge, load=profile)
    low, high = used.ah - HALF_90 * used.ah_std, used.ah + HALF_90 * used.ah_std
    return {
        "of": "mow",
        "told": bool(spot.socket_wh or spot.put_back_wh or spot.put_back_ah),
        "off": used.mean_a / true.mean_a - 1,
        "ah off": used.ah / true.charge_ah - 1,
        "ah held": low <= true.charge_ah <= high,
        "charge held": left.charge_low <= max(true.charge_end, 0.0) <= left.charge_high,
        "charge off": left.charge - true.charge_end,
        "cut": true.cut,
        "held": left.low <= true.left_end_min <= left.high,
        "under": true.left_end_min < left.low,
        "width": (left.high - left.low) / (true.minutes + true.left_end_min),
        "minutes off": (left.minutes - true.left_end_min) / (true.minutes + true.left_end_min),
        "seconds": time.process_time() - began,
    }


def _of_pack(season: HandSeason, need: Need, fitted: est.Pack, features: list) -> Row:
    exact = float(np.quantile(need.needs_ah, SURE))
    found = est.recommend_capacity(
        est.fit_profile(features),
        fitted,
        lawns=[est.Lawn(f.name, area_m2=f.area_m2) for f in need.fields],
        grass=est.Grass(moisture=need.moisture, growth_mm=need.growth_mm),
        sure=SURE, capacity_at_end=0.8, reserve=0.1, coldest_c=need.coldest_c,
    )  # fmt: skip
    parts = {f"part {part.name}": part.ah / exact for part in found.parts}
    mean_wh = float(np.mean(need.energy_j)) / 3600
    return {"of": "pack", "ratio": found.capacity_ah / exact, "energy": found.energy_wh / mean_wh, **parts}


def show_hands(rows: list[Row]) -> None:
    """Tables by chemistry, by number of mows, and over all."""
    groups = {
        **{f"after {n}": (lambda r, n=n: r["after"] == n) for n in AFTER},
        **{c: (lambda r, c=c: r["chemistry"] == c) for c in CHEMISTRIES},
        **{h: (lambda r, h=h: r["habit"] == h) for h in dict.fromkeys(str(r["habit"]) for r in rows)},
        "charger told": lambda r: bool(r.get("told")),
        "all": lambda r: True,
    }
    mows = [r for r in rows if r["of"] == "mow"]
    lines = []
    for name, test in groups.items():
        part = [r for r in mows if test(r)]
        asked = [r for r in part if not r["cut"]]
        if part:
            off = figures(part, "off")
            lines.append(
                (name, len(part), float(np.median(np.abs(off))), float(np.median(off)), float(off.mean()),
                 share(part, "ah held"), share(part, "charge held"),
                 float(figures(part, "charge off").mean()),
                 share(asked, "held"), share(asked, "under"), float(np.median(figures(asked, "width"))),
                 float(np.median(figures(asked, "minutes off"))), float(np.median(figures(part, "seconds"))))
            )  # fmt: skip
    show(
        "mean current, charge and minutes of one mow noted by hand",
        ("", "n", "|A off|", "median", "mean", "Ah held", "charge held", "off", "min held", "under", "width",
         "off", "s"),
        lines,
    )  # fmt: skip
    lines = []
    for name, test in groups.items():
        part = [r for r in rows if r["of"] == "pack" and test(r)]
        if part:
            ratio = figures(part, "ratio")
            most = 1.8 if name == "after 1" else 1.4
            inside = float(np.mean((ratio >= 1.0) & (ratio <= most)))
            lines.append(
                (name, len(part), inside, float((ratio < 1).mean()), *np.quantile(ratio, [0.05, 0.5, 0.95]),
                 float(np.median(figures(part, "energy"))))
            )  # fmt: skip
    show(
        "recommended pack over the exact need",
        ("", "n", "inside", "small", "5th", "median", "95th", "Wh"),
        lines,
    )
    print(f"refused: {sum(r['of'] == 'refused' for r in rows)} of {len(mows)}")
