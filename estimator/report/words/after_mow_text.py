"""A mow that was just kept, in a few words: harder or easier than predicted, and what is left for."""

from __future__ import annotations

from estimator.answers.keeping.after_mow import AfterMow

AS_PREDICTED = 0.015
"""Nearer than this share, a mow came as predicted: half a per cent more is nothing to talk of."""
LIKELY, UNLIKELY = 0.9, 0.5


def compared_words(after: AfterMow) -> str:
    """How the mow came beside its prediction; blank where nothing was predicted."""
    if after.predicted is None or after.harder is None:
        return ""
    if abs(after.harder) < AS_PREDICTED:
        return "As hard as predicted."
    return f"{abs(after.harder):.0%} {'harder' if after.harder > 0 else 'easier'} than predicted.".replace(
        "%", " %"
    )


def band_words(after: AfterMow) -> str:
    """Whether that is more than mows differ from day to day."""
    found = after.predicted
    if found is None:
        return "Nothing was predicted: it takes an earlier mow, and one that finished its lawn."
    took = f"It took {found.energy_came_wh:.0f} Wh; {found.energy_wh:.0f} Wh were predicted"
    between = f"({found.energy_low_wh:.0f} to {found.energy_high_wh:.0f} in 9 mows of 10)"
    so = (
        "so that is usual day-to-day variation"
        if found.held
        else "so that is more than the usual day-to-day variation"
    )
    return f"{took} {between}, {so}."


def left_words(after: AfterMow) -> str:
    """The largest lawn that the rest of the charge likely finishes, or that it hardly does another."""
    if not after.more:
        return ""
    likely = [each for each in after.more if each.odds >= LIKELY]
    one = max(likely, key=lambda each: each.area_m2) if likely else after.more[0]
    opening = "Enough left for" if one.odds >= UNLIKELY else "Hardly enough left for"
    return f"{opening} {one.lawn}: {in_100(one.odds)}."


def in_100(odds: float) -> str:
    """A chance as so many in a hundred, never certain.

    >>> in_100(0.968), in_100(1.0), in_100(0.001)
    ('97 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    if odds > 0.99:
        return "over 99 in 100"
    return "under 1 in 100" if odds < 0.01 else f"{100 * odds:.0f} in 100"
