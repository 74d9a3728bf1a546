"""Mows as text: one in detail, a list of them, and what is said right after one was kept."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.answers.keeping.after_mow import AfterMow
from estimator.answers.keeping.read_mow import MowFigures
from estimator.answers.mow import MowsListed, MowStory
from estimator.answers.why import within
from estimator.descriptions import DOUBTFUL
from estimator.logbook import Change, MowRecord
from estimator.report.words.change_text import changed_words
from estimator.report.words.text import bullets, figure, pairs, paragraph, table
from estimator.results import odds
from estimator.written_days import day_and_time


def mow_figures_text(mow: MowFigures, width: int) -> str:
    """What one mow holds, with the sentences of the importer."""
    kept = mow.mow is not None
    head = f"Mow {mow.mow} on {mow.lawn} kept." if kept else f"Mow on {mow.lawn}, looked at; nothing kept."
    unread = f", {mow.gap_minutes:.1f} min unread" if mow.gap_minutes > 0.05 else ""
    rows = [
        ("started", day_and_time(mow.started) if mow.started else "unknown"),
        ("mowing time", figure(mow.minutes, "min") + unread),
        ("charge used", f"{mow.ah:.2f} Ah, {within(mow.ah_std, 'Ah')}"),
        ("energy used", f"{mow.wh:.0f} Wh, {within(mow.wh_std, 'Wh')}; {per_area_words(mow)}"),
        ("mean power", power_words(mow)),
        ("peaks", peak_words(mow)),
        ("pack then" if mow.later else "pack now", f"{mow.pack}: {mow.pack_now.said}"),
    ]
    return "\n".join([head, pairs(rows, width), *_noted(mow.notes, width)])


def _noted(notes: Sequence[str], width: int) -> list[str]:
    return ["Recognised and corrected", *bullets(notes, width)] if notes else []


def per_area_words(mow: MowFigures | MowStory) -> str:
    """The energy per area, and that the unread minutes are in it where they are: a gap longer than the mowing
    is taken for a break."""
    filled = ", the unread minutes filled in" if 0.05 < mow.gap_minutes <= mow.minutes else ""
    return f"{mow.wh_per_m2:.3f} Wh/m²{filled}"


def power_words(mow: MowFigures | MowStory) -> str:
    """The mean power, and where it was seen the idle power."""
    return figure(mow.mean_w, "W") + (f", idle {mow.idle_w:.0f} W" if mow.idle_w is not None else "")


def peak_words(mow: MowFigures | MowStory) -> str:
    """The peaks that the readings show, such as "1498 W (5 s), 1382 W (30 s)"."""
    held = ((mow.peak_1s_w, 1), (mow.peak_5s_w, 5), (mow.peak_30s_w, 30))
    seen = [f"{peak:.0f} W ({seconds} s)" for peak, seconds in held if peak is not None]
    return ", ".join(seen) or "not read: highest amps, or a reading at least every minute, would show them"


def mow_list_text(listed: MowsListed, width: int) -> str:
    """A list of mows, one in each line."""
    if not listed.mows:
        return "No mows."
    rows = [
        [
            str(mow.id), f"{mow.started:%Y-%m-%d}" if mow.started else "unknown", mow.lawn, grass_words(mow),
            mow.pack or "", figure(minutes), figure(energy_wh), ", ".join(mow.tags),
        ]
        for mow, minutes, energy_wh in zip(listed.mows, listed.minutes, listed.energy_wh, strict=True)
    ]  # fmt: skip
    headings = ["mow", "day", "lawn", "grass", "pack", "min", "Wh", "tags"]
    if not any(row[-1] for row in rows):
        headings, rows = headings[:-1], [row[:-1] for row in rows]
    holds = [(f"{each.pack} now", each.pack_now.said) for each in listed.packs]
    said = [table(headings, rows, width), *([pairs(holds, width)] if holds else [])]
    aside = aside_words(listed.mows, "`mowcharge show {0}`", "`mowcharge edit {0}`")
    return "\n".join([*said, *([paragraph(aside, width)] if aside else [])])


def aside_words(mows: Sequence[MowRecord], shown_by: str, mended_by: str) -> str:
    """How a mow that is set aside comes to count, where any of them is; else blank.

    shown_by, mended_by : what shows a mow and what takes its tag off; {0} stands for its number

    >>> aside_words([MowRecord(3, "bank", tags=("doubtful",))], "page {0}", "Count")
    'No answer rests on a doubtful mow: page 3 says why; without the tag, which Count takes off, it counts.'
    """
    aside = [mow.id for mow in mows if DOUBTFUL in mow.tags and not mow.removed]
    if not aside:
        return ""
    why = f"No answer rests on a {DOUBTFUL} mow: {shown_by.format(aside[0])} says why"
    return f"{why}; without the tag, which {mended_by.format(aside[0])} takes off, it counts."


def grass_words(mow: MowRecord) -> str:
    """The grass in a few words, such as "damp, 25 mm".

    >>> from estimator.descriptions import Grass
    >>> [grass_words(MowRecord(1, "bank", each)) for each in (Grass("damp", 2000), Grass(None, None, 9))]
    ['damp, 2000 mm', 'after 9 days']
    """
    grass = mow.grass
    growth = None if grass.growth_mm is None else f"{grass.growth_mm:.4g} mm"
    days = None if grass.days_since_cut is None else f"after {grass.days_since_cut:g} days"
    return ", ".join(filter(None, [grass.moisture, growth, days]))


def history_text(changes: Sequence[Change], width: int) -> str:
    """The edits of a mow, oldest first."""
    said = (f"{each.at[:10]} {each.what}: {'; '.join(changed_words(each))}" for each in changes)
    return "\n".join(bullets((each.removesuffix(": ") for each in said), width))


def story_rows(story: MowStory) -> list[tuple[str, str]]:
    """One mow as described, and its figures, each with its name."""
    mow = story.record
    return [
        ("lawn", mow.lawn),
        ("grass", grass_words(mow) or "not given"),
        ("pack", mow.pack or "not given"),
        *([("pack now", story.pack_now.said)] if story.pack_now else []),
        ("machine", mow.machine or "not given"),
        ("started", day_and_time(mow.started) if mow.started else "unknown"),
        ("start charge", "worked out" if mow.start_charge is None else f"{100 * mow.start_charge:.0f} %"),
        ("tags", ", ".join(mow.tags) or "none"),
        ("files", ", ".join(f"{file.name} ({file.size} bytes)" for file in mow.files)),
        ("mowing time", figure(story.minutes, "min")),
        ("charge used", f"{story.ah:.2f} Ah, {within(story.ah_std, 'Ah')}"),
        ("energy used", f"{story.energy_wh:.0f} Wh, {per_area_words(story)}"),
        ("mean power", power_words(story)),
        ("peaks", peak_words(story)),
    ]


def story_text(story: MowStory, width: int) -> str:
    """One mow as described, its figures, the importer's notes and its history."""
    mow = story.record
    head = f"Mow {mow.id}" + (", removed" if mow.removed else "")
    noted = _noted(mow.notes.splitlines(), width)
    return "\n".join(
        [head, pairs(story_rows(story), width), *noted, "History", history_text(story.history, width)]
    )


AS_PREDICTED = 0.015
"""Within this share a mow came as predicted: one percent more or less is not worth saying."""
LIKELY, UNLIKELY = 0.9, 0.5


def compared_words(after: AfterMow) -> str:
    """How the mow compares with its prediction; blank where nothing was predicted."""
    if after.predicted is None or after.harder is None:
        return ""
    if abs(after.harder) < AS_PREDICTED:
        return "As hard as predicted."
    return f"{100 * abs(after.harder):.0f} % {'harder' if after.harder > 0 else 'easier'} than predicted."


def band_words(after: AfterMow) -> str:
    """Whether a mow differs from its prediction by more than mows do from day to day."""
    found = after.predicted
    if found is None:
        if DOUBTFUL in after.record.tags:
            return "No comparison: no answer rests on a mow that is set aside."
        return "No comparison: that takes an earlier mow, and a lawn that was finished."
    took = f"It took {found.energy_came_wh:.0f} Wh; {found.energy_wh:.0f} Wh were predicted"
    between = f"({found.energy_low_wh:.0f} to {found.energy_high_wh:.0f} in 9 mows of 10)"
    return f"{took} {between}, so that is {'' if found.held else 'more than the '}usual day-to-day variation."


def left_words(after: AfterMow) -> str:
    """The largest lawn that the charge left will likely finish, or that it will hardly finish another."""
    if not after.more:
        return ""
    likely = [each for each in after.more if each.odds >= LIKELY]
    one = max(likely, key=lambda each: each.area_m2) if likely else after.more[0]
    opening = "Enough left for" if one.odds >= UNLIKELY else "Hardly enough left for"
    return f"{opening} {one.lawn}: {in_100(one.odds)}."


def in_100(chance: float) -> str:
    """A chance in a hundred, never quite certain.

    >>> in_100(0.968), in_100(1.0), in_100(0.001)
    ('97 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    return odds(chance).replace("%", "in 100")
