"""The command that shows every caution in full."""

from __future__ import annotations


def cautions() -> None:
    """What to watch out for around blades, cells and wires, in full.

    Answers show a caution in full once; afterwards they name its topic.

    Example: mowcharge cautions
    """
    from estimator.cli.output import say, width
    from estimator.conversion.cautions import TOPICS
    from estimator.report.words.text import paragraph

    for topic, text in TOPICS.items():
        say(f"{topic[0].upper()}{topic[1:]}", paragraph(text, width(), "! "), "")
