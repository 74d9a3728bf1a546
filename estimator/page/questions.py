"""Questions from the fields of a form or an address; the page and the JSON interface ask the same ones."""

from __future__ import annotations

from typing import Any

from estimator.answers.capacity import CapacityQuestion
from estimator.answers.minutes import MinutesQuestion
from estimator.answers.plan import Pause, PlanQuestion
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.page.door.forms import Sent, amount_of, needed_amount, needed_number, number_of
from estimator.written_days import moment

MOST_LAWNS = 60
"""Of one question; bounds its work."""
MOST_SIZES = 12
"""Of one question; bounds its work."""


def grass_of(sent: Sent) -> Grass:
    """Grass from a form; what is blank is unknown.

    >>> grass_of(Sent({"moisture": "damp", "growth_mm": "25"}, {}))
    Grass(moisture='damp', growth_mm=25.0, days_since_cut=None)
    """
    return Grass(
        moisture=sent.text("moisture") or None,
        growth_mm=amount_of(sent, "growth_mm"),
        days_since_cut=amount_of(sent, "days_since_cut"),
    )


def said_of_mow(sent: Sent) -> dict[str, Any]:
    """What a form says of a mow besides its files, by the names that keeping and editing share.

    >>> said_of_mow(Sent({"lawn": "orchard", "start_charge": "100", "tags": "a, b,a"}, {}))["tags"]
    ('a', 'b')
    """
    return {
        "lawn": sent.text("lawn"),
        "pack": sent.text("pack") or None,
        "machine": sent.text("machine") or None,
        "grass": grass_of(sent),
        "start_charge": amount_of(sent, "start_charge"),
        "temperature_c": amount_of(sent, "temperature_c"),
        "started": moment(written) if (written := sent.text("started")) else None,
        "tags": tuple(dict.fromkeys(tag.strip() for tag in sent.text("tags").split(",") if tag.strip())),
    }


def lawns_in_order(sent: Sent) -> tuple[str, ...]:
    """The lawns that were ticked, in the order of the places given beside them.

    >>> lawns_in_order(Sent({"place:b": "1"}, {"lawn": ["a", "b"]}))
    ('b', 'a')
    """
    names = [name for name in dict.fromkeys(sent.all("lawn")) if name]
    if len(names) > MOST_LAWNS:
        raise InputError(f"{len(names)} lawns are named", mend=f"name {MOST_LAWNS} at most")
    places = {name: number_of(sent, f"place:{name}", f"place of {name}") for name in names}
    return tuple(sorted(names, key=lambda name: (places[name] is None, places[name] or 0.0)))


def plan_question(sent: Sent) -> PlanQuestion:
    """Lawns per charge."""
    order, aim = _order(sent)
    break_minutes = amount_of(sent, "pause_minutes")
    pause = None
    if break_minutes:
        pause = Pause(
            after=int(needed_number(sent, "pause_after", "lawns before the break")),
            minutes=break_minutes,
            charger_w=needed_amount(sent, "charger_w"),
        )
    return PlanQuestion(
        lawns=lawns_in_order(sent),
        grass=grass_of(sent),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        sure=amount_of(sent, "sure") or 0.95,
        start_charge=amount_of(sent, "start_charge"),
        temperature_c=amount_of(sent, "temperature_c"),
        reserve=amount_of(sent, "reserve") or 0.0,
        order=order,
        aim=aim,
        pause=pause,
        spare=sent.text("spare") or None,
    )


def _order(sent: Sent) -> tuple[str, str]:
    known = {
        "": ("given", "lawns"),
        "given": ("given", "lawns"),
        "lawns": ("best", "lawns"),
        "area": ("best", "area"),
    }
    try:
        return known[sent.text("order")]
    except KeyError:
        problem = f"the order is {sent.text('order')[:20]!r}"
        raise InputError(problem, mend="choose given, lawns or area") from None


def capacity_question(sent: Sent) -> CapacityQuestion:
    """Recommended capacity."""
    return CapacityQuestion(
        lawns=lawns_in_order(sent),
        grass=grass_of(sent),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        sure=amount_of(sent, "sure") or 0.95,
        reserve=_given(amount_of(sent, "reserve"), 0.10),
        capacity_at_end=amount_of(sent, "capacity_at_end") or 0.80,
        resistance_at_end=_given(amount_of(sent, "resistance_at_end"), 1.5),
        coldest_c=amount_of(sent, "coldest_c"),
        sizes_ah=_sizes(sent.text("sizes_ah")),
    )


def _sizes(text: str) -> tuple[float, ...]:
    """Sizes [Ah] that can be bought, separated by spaces or semicolons."""
    parts = text.replace(";", " ").split()
    if len(parts) > MOST_SIZES:
        raise InputError(f"{len(parts)} sizes are named", mend=f"name {MOST_SIZES} at most")
    return tuple(needed_amount(Sent({"size_ah": part}, {}), "size_ah") for part in parts)


def minutes_question(sent: Sent, files: tuple[tuple[str, bytes], ...] = ()) -> MinutesQuestion:
    """Minutes left."""
    return MinutesQuestion(
        files=files,
        pack=sent.text("pack") or None,
        start_charge=amount_of(sent, "start_charge"),
        temperature_c=amount_of(sent, "temperature_c"),
        lawn=sent.text("go_on_as") or None,
        grass=grass_of(sent),
        one_more=bool(sent.text("one_more")),
        level=amount_of(sent, "level") or 0.90,
    )


def _given(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
