"""The track record as text."""

from __future__ import annotations

from estimator.answers.track_record import TrackRecordAnswer
from estimator.report.answer_text import percent
from estimator.report.text import pairs, paragraph


def track_record_text(answer: TrackRecordAnswer, width: int) -> str:
    """How often the bands held, and the misses beside simpler guesses."""
    rows = [
        (
            "bands held",
            f"energy {percent(answer.held)}, minutes {percent(answer.minutes_held)} "
            f"(meant: {percent(answer.level)})",
        ),
        ("median miss", f"energy {percent(answer.miss)}, minutes {percent(answer.minutes_miss)}"),
        ("same as last time", f"{percent(answer.last_time_miss)} (energy)"),
        ("mean of all mows", f"{percent(answer.mean_miss)} (energy)"),
    ]
    chance = (
        f"If the bands are right, {percent(answer.held_low)} to {percent(answer.held_high)} of {answer.mows} "
        "would hold in 9 cases of 10."
    )
    return "\n".join([paragraph(answer.sentence, width), pairs(rows, width), paragraph(chance, width)])
