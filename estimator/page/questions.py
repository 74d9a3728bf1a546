"""Questions from the fields of a form or an address; the page and the JSON interface ask the same ones."""

from __future__ import annotations

from typing import Any

from estimator.answers.capacity import CapacityQuestion
from estimator.answers.minutes import MinutesQuestion
from estimator.answers.plan import MownSoFar, PlanQuestion
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.page.door.forms import (
    Sent,
    amount_of,
    amount_or,
    amounts_of,
    needed_amount,
    needed_number,
    number_of,
)
from estimator.written_days import moment

MOST_LAWNS = 60
"""How many lawns a question can have; bounds its work."""
MOST_SIZES = 12
"""How many sizes a question can have; bounds its work."""


def grass_of(sent: Sent) -> Grass:
    """Grass from a form; what is blank is unknown.

    >>> grass_of(Sent({"moisture": "damp", "growth_mm": "25"}, {}))
    Grass(moisture='damp', growth_mm=25.0, days_since_cut=None)
    """
    return Grass(moisture=sent.text("moisture") or None, **amounts_of(sent, "growth_mm", "days_since_cut"))


def said_of_mow(sent: Sent) -> dict[str, Any]:
    """What a form says of a mow besides its files, by the names that both keeping and editing use.

    >>> said_of_mow(Sent({"lawn": "orchard", "start_charge": "100", "tags": "a, b,a"}, {}))["tags"]
    ('a', 'b')
    """
    return {
        "lawn": sent.text("lawn"),
        "pack": sent.text("pack") or None,
        "machine": sent.text("machine") or None,
        "grass": grass_of(sent),
        **amounts_of(sent, "start_charge", "temperature_c"),
        "started": moment(written) if (written := sent.text("started")) else None,
        "tags": tuple(dict.fromkeys(tag.strip() for tag in sent.text("tags").split(",") if tag.strip())),
    }


def lawns_in_order(sent: Sent) -> tuple[str, ...]:
    """The lawns that were ticked, in the order of the places typed next to them.

    >>> lawns_in_order(Sent({"place:b": "1"}, {"lawn": ["a", "b"]}))
    ('b', 'a')
    """
    names = [name for name in dict.fromkeys(sent.all("lawn")) if name]
    if len(names) > MOST_LAWNS:
        raise InputError(f"{len(names)} lawns are named", mend=f"name {MOST_LAWNS} at most")
    places = {name: number_of(sent, f"place:{name}", f"place of {name}") for name in names}
    return tuple(sorted(names, key=lambda name: (places[name] is None, places[name] or 0.0)))


def plan_question(sent: Sent, files: tuple[tuple[str, bytes], ...] = ()) -> PlanQuestion:
    """The question of lawns per charge; from the charge left after the log so far, where that was sent."""
    from estimator.predictor.lawns.day import ChargingPause

    known = {"given": ("given", "lawns"), "lawns": ("best", "lawns"), "area": ("best", "area")}
    asked = sent.text("order") or "given"
    if asked not in known:
        raise InputError(f"the order is {asked[:20]!r}", mend="choose given, lawns or area")
    order, aim = known[asked]
    pause = None
    if break_minutes := amount_of(sent, "pause_minutes"):
        after = int(needed_number(sent, "pause_after", "lawns before the break"))
        pause = ChargingPause(after, break_minutes, needed_amount(sent, "charger_w"))
    return PlanQuestion(
        lawns=lawns_in_order(sent),
        grass=grass_of(sent),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        sure=amount_or(sent, "sure", 0.95),
        reserve=amount_or(sent, "reserve", 0.0),
        **amounts_of(sent, "start_charge", "temperature_c"),
        order=order,
        aim=aim,
        pause=pause,
        spare=sent.text("spare") or None,
        so_far=MownSoFar(files) if files else None,
    )


def capacity_question(sent: Sent) -> CapacityQuestion:
    """The question of recommended capacity; sizes on offer are separated by spaces or semicolons."""
    sizes = sent.text("sizes_ah").replace(";", " ").split()
    if len(sizes) > MOST_SIZES:
        raise InputError(f"{len(sizes)} sizes are named", mend=f"name {MOST_SIZES} at most")
    return CapacityQuestion(
        lawns=lawns_in_order(sent),
        grass=grass_of(sent),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        sure=amount_or(sent, "sure", 0.95),
        reserve=amount_or(sent, "reserve", 0.10),
        capacity_at_end=amount_or(sent, "capacity_at_end", 0.80),
        resistance_at_end=amount_of(sent, "resistance_at_end"),
        coldest_c=amount_of(sent, "coldest_c"),
        sizes_ah=tuple(needed_amount(Sent({"size_ah": each}, {}), "size_ah") for each in sizes),
    )


def minutes_question(sent: Sent, files: tuple[tuple[str, bytes], ...] = ()) -> MinutesQuestion:
    """The question of minutes left."""
    return MinutesQuestion(
        files=files,
        pack=sent.text("pack") or None,
        **amounts_of(sent, "start_charge", "temperature_c"),
        lawn=sent.text("go_on_as") or None,
        grass=grass_of(sent),
        one_more=bool(sent.text("one_more")),
        level=amount_or(sent, "level", 0.90),
        decisions={"gaps": sent.text("gaps")} if sent.text("gaps") else {},
    )
