"""Reports to print: one HTML file with its pictures inside, which loads nothing from elsewhere."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256
from html import escape

from estimator.answers.charge_curve import ChargeOfMow
from estimator.answers.mow import MowStory
from estimator.answers.why import Why
from estimator.importer.log import Log
from estimator.mends import settled
from estimator.report.pictures.answer_pictures import charge_picture
from estimator.report.pictures.log_picture import log_picture
from estimator.report.pictures.picture import PICTURE_STYLE, page_picture
from estimator.report.words.mow_text import story_rows
from estimator.report.words.text import INSIDE_A_FIGURE, band
from estimator.written_days import day_and_time

STYLE = f"""{PICTURE_STYLE}
@page {{ size: A4; margin: 16mm 15mm; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 1.5rem; max-width: 46rem; color: #1f1a22; background: #ffffff;
  font: 11pt/1.45 Seravek, "Gill Sans Nova", Ubuntu, Calibri, "DejaVu Sans", sans-serif; }}
h1, h2 {{ font-family: Rockwell, "Roboto Slab", "DejaVu Serif", Georgia, serif; line-height: 1.2; }}
h1 {{ font-size: 20pt; margin: 0; padding-bottom: 0.4rem; border-bottom: 0.35rem solid #4f1f49; }}
h2 {{ font-size: 13pt; margin: 1.6rem 0 0.4rem; break-after: avoid; }}
.under {{ color: #4a4350; margin: 0.4rem 0 0; }}
figure, tr, li, .caution p {{ break-inside: avoid; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; vertical-align: top; padding: 0.25rem 0.8rem 0.25rem 0;
  border-bottom: 1px solid #cfcbd0; }}
th {{ font-weight: 400; }}
td {{ font-weight: 700; }}
td + td, td small {{ font-weight: 400; }}
small, .why {{ font-size: 9pt; color: #4a4350; }}
pre {{ font: clamp(7.5pt, 1.9vw, 9.5pt)/1.35 "DejaVu Sans Mono", Consolas, monospace; overflow-x: auto; }}
figure {{ margin: 0.8rem 0; }}
.caution {{ border-left: 0.3rem solid #1f1a22; padding: 0.1rem 0.8rem; margin: 0.8rem 0; }}
ul {{ padding-left: 1.2rem; margin: 0.4rem 0; }}
@media print {{ body {{ padding: 0; max-width: none; }} th {{ white-space: nowrap; }} }}
"""
STYLE_SOURCE = "'sha256-" + b64encode(sha256(STYLE.encode()).digest()).decode() + "'"
"""The style sheet of a report, as a content-security policy names it."""


@dataclass(frozen=True)
class Section:
    """One part of a report; everything but the picture is text and gets escaped.

    text : lines that are already laid out; rows : (name, figure, remark), shown as a table; sentences : shown
        as a list; drawn : a picture from `page_picture`
    """

    heading: str
    text: str = ""
    why: Why = field(default_factory=Why)
    drawn: str = ""
    rows: Sequence[tuple[str, str, str]] = ()
    sentences: Sequence[str] = ()


def printable(title: str, sections: Sequence[Section], day: date, under: str = "") -> str:
    """A whole report as HTML; each caution is said once, at the end.

    >>> section = Section("Energy", rows=[("used", "61 Wh", "")], why=Why(cautions=("Keep it dry.",)))
    >>> text = printable("Orchard <east>", [section], date(2025, 5, 1))
    >>> "Orchard &lt;east&gt;" in text, "http" in text, text.count("Keep it dry.")
    (True, False, 1)
    """
    body = "".join(_section(each) for each in sections)
    cautions = dict.fromkeys(caution for each in sections for caution in each.why.cautions)
    minded = "".join(f"<p>{escape(each)}</p>" for each in cautions)
    made = f"{under}. Made" if under else "Made"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style></head><body><main>"
        f'<h1>{escape(title)}</h1><p class="under">{escape(made)} on {day} from the logbook. Bands hold nine '
        f"times in ten unless said otherwise.</p>{body}"
        + (f'<section class="caution"><h2>Before you act on it</h2>{minded}</section>' if minded else "")
        + "</main></body></html>\n"
    )


def mow_report(story: MowStory, charge: ChargeOfMow | None, log: Log) -> str:
    """The report of one mow.

    charge : its charge curve, None where there is none
    """
    record = story.record
    begun = day_and_time(record.started) if record.started else "day unknown"
    rows = [(name, value, "") for name, value in story_rows(story)]
    sections = [Section("This mow", rows=rows)]
    if charge is not None:
        left = band(100 * charge.charge, 100 * charge.low, 100 * charge.high, "%")
        held = [("charge left at the end", left, f"{100 * charge.level:.0f} % band")]
        sections.append(Section("Charge", "", charge.why, page_picture(charge_picture(charge)).html, held))
    drawn, notes = page_picture(log_picture(log)).html, tuple(map(settled, log.notes))
    sections.append(Section("The log", drawn=drawn, sentences=notes))
    return printable(f"Mow {record.id}: {record.lawn}", sections, date.today(), begun)


def _section(section: Section) -> str:
    rows = "".join(
        f'<tr><th scope="row">{_shown(name)}</th><td>{_shown(value)}</td>'
        f"<td><small>{_shown(remark)}</small></td></tr>"
        for name, value, remark in section.rows
    )
    table = f"<table><tbody>{rows}</tbody></table>" if rows else ""
    text = f"<pre tabindex='0'>{escape(section.text)}</pre>" if section.text else ""
    drawn = f"<figure>{section.drawn}</figure>" if section.drawn else ""
    told = "".join(f"<li>{_shown(each)}</li>" for each in section.sentences)
    behind = [*(part.line() for part in section.why.parts), *section.why.assumptions, *section.why.sources]
    why = "".join(f"<li>{_shown(each)}</li>" for each in behind)
    return (
        f"<section><h2>{escape(section.heading)}</h2>{text}{table}{drawn}"
        + (f"<ul>{told}</ul>" if told else "")
        + (f'<div class="why"><p>Why:</p><ul>{why}</ul></div>' if why else "")
        + "</section>"
    )


def _shown(text: str) -> str:
    """A text of the report, in which figures are not separated from their units by a line break."""
    return escape(INSIDE_A_FIGURE.sub("\u00a0", text))
