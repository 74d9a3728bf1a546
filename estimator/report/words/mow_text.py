"""Mows as text: one looked at closely, or a list of them."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.answers.keeping.read_mow import MowFigures
from estimator.answers.mow import MowsListed, MowStory
from estimator.answers.why import within
from estimator.logbook import Change, MowRecord
from estimator.report.words.change_text import changed_words
from estimator.report.words.text import figure, pairs, paragraph, settled, table


def mow_figures_text(mow: MowFigures, width: int) -> str:
    """What one mow holds, with the sentences of the importer."""
    head = (
        f"Mow {mow.mow} on {mow.lawn} kept."
        if mow.mow is not None
        else f"Mow on {mow.lawn}, looked at; nothing kept."
    )
    rows = [
        ("started", f"{mow.started:%Y-%m-%d %H:%M}" if mow.started else "unknown"),
        (
            "mowing time",
            figure(mow.minutes, "min")
            + (f", {mow.gap_minutes:.1f} min unread" if mow.gap_minutes > 0.05 else ""),
        ),
        ("charge used", f"{mow.ah:.2f} Ah, {within(mow.ah_std, 'Ah')}"),
        ("energy used", f"{mow.wh:.0f} Wh, {within(mow.wh_std, 'Wh')}; {mow.wh_per_m2:.3f} Wh/m²"),
        (
            "mean power",
            figure(mow.mean_w, "W") + (f", idle {mow.idle_w:.0f} W" if mow.idle_w is not None else ""),
        ),
        ("peaks", f"{mow.peak_1s_w:.0f} W (1 s), {mow.peak_5s_w:.0f} W (5 s), {mow.peak_30s_w:.0f} W (30 s)"),
        (
            "pack then" if mow.later else "pack now",
            f"{mow.pack}: {mow.pack_now.said}",
        ),
    ]
    blocks = [head, pairs(rows, width)]
    if mow.notes:
        blocks.append("Recognised and corrected")
        blocks.extend(paragraph(note, width, "  - ") for note in mow.notes)
    return "\n".join(blocks)


def mow_list_text(listed: MowsListed, width: int) -> str:
    """Mows one a line."""
    if not listed.mows:
        return "No mows."
    rows = [
        [
            str(mow.id),
            f"{mow.started:%Y-%m-%d}" if mow.started else "unknown",
            mow.lawn,
            grass_words(mow),
            mow.pack or "",
            ", ".join(mow.tags),
        ]
        for mow in listed.mows
    ]
    headings = ["mow", "day", "lawn", "grass", "pack", "tags"]
    if not any(row[-1] for row in rows):
        headings, rows = headings[:-1], [row[:-1] for row in rows]
    return table(headings, rows, width)


def grass_words(mow: MowRecord) -> str:
    """The grass in a few words, such as "damp 25 mm".

    >>> from estimator.descriptions import Grass
    >>> grass_words(MowRecord(1, "orchard", Grass("damp", 25)))
    'damp 25 mm'
    """
    grass = mow.grass
    words = [
        grass.moisture or "",
        f"{grass.growth_mm:g} mm" if grass.growth_mm is not None else "",
        f"{grass.days_since_cut:g} days" if grass.days_since_cut is not None else "",
    ]
    return " ".join(word for word in words if word)


def history_text(changes: Sequence[Change], width: int) -> str:
    """The edits of a mow, oldest first."""
    lines = []
    for change in changes:
        said = "; ".join(changed_words(change))
        lines.append(
            paragraph(f"{change.at[:10]} {change.what}" + (f": {said}" if said else ""), width, "  - ")
        )
    return "\n".join(lines)


def story_text(story: MowStory, width: int) -> str:
    """One mow as described, its figures, the importer's notes and its history."""
    mow = story.record
    rows = [
        ("lawn", mow.lawn),
        ("grass", grass_words(mow) or "not given"),
        ("pack", mow.pack or "not given"),
        ("machine", mow.machine or "not given"),
        ("started", f"{mow.started:%Y-%m-%d %H:%M}" if mow.started else "unknown"),
        ("start charge", "worked out" if mow.start_charge is None else f"{100 * mow.start_charge:.0f} %"),
        ("tags", ", ".join(mow.tags) or "none"),
        ("files", ", ".join(f"{file.name} ({file.size} bytes)" for file in mow.files)),
        ("mowing time", figure(story.minutes, "min")),
        ("charge used", f"{story.ah:.2f} Ah, {within(story.ah_std, 'Ah')}"),
        ("energy used", f"{story.energy_wh:.0f} Wh, {story.wh_per_m2:.3f} Wh/m²"),
        (
            "mean power",
            figure(story.mean_w, "W") + (f", idle {story.idle_w:.0f} W" if story.idle_w is not None else ""),
        ),
        (
            "peaks",
            f"{story.peak_1s_w:.0f} W (1 s), {story.peak_5s_w:.0f} W (5 s), {story.peak_30s_w:.0f} W (30 s)",
        ),
    ]
    blocks = [f"Mow {mow.id}" + (", removed" if mow.removed else ""), pairs(rows, width)]
    if mow.notes:
        blocks.append("Recognised and corrected")
        blocks.extend(paragraph(settled(note), width, "  - ") for note in mow.notes.splitlines())
    blocks.extend(["History", history_text(story.history, width)])
    return "\n".join(blocks)
