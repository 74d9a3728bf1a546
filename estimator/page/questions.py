"""Questions from the fields of a form or an address; the page and the JSON interface ask the same ones."""

from __future__ import annotations

from estimator.answers.capacity import CapacityQuestion
from estimator.answers.minutes import MinutesQuestion
from estimator.answers.plan import Pause, PlanQuestion
from estimator.descriptions import Grass
from estimator.errors import InputError
from estimator.page.door.forms import Sent, needed_number, number_of

MOST_LAWNS = 60
MOST_SIZES = 12


def grass_of(sent: Sent) -> Grass:
    """Grass from a form; what is blank is unknown.

    >>> grass_of(Sent({"moisture": "damp", "growth_mm": "25"}, {}))
    Grass(moisture='damp', growth_mm=25.0, days_since_cut=None)
    """
    return Grass(
        moisture=sent.text("moisture") or None,
        growth_mm=number_of(sent, "growth_mm", "growth"),
        days_since_cut=number_of(sent, "days_since_cut", "days since the last cut"),
    )


def percent_of(sent: Sent, name: str, what: str, *, low: float = 0.0, high: float = 100.0) -> float | None:
    """A percentage from a field as a fraction, None where it is blank.

    >>> percent_of(Sent({"sure": "95"}, {}), "sure", "certainty")
    0.95
    """
    value = number_of(sent, name, what)
    if value is not None and not low <= value <= high:
        raise InputError(f"{what} is {value:g} %", mend=f"give a percentage from {low:g} to {high:g}")
    return None if value is None else value / 100


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
    break_minutes = number_of(sent, "pause_minutes", "length of the break")
    pause = None
    if break_minutes:
        pause = Pause(
            after=int(needed_number(sent, "pause_after", "lawns before the break")),
            minutes=break_minutes,
            charger_w=needed_number(sent, "charger_w", "watts of the charger"),
        )
    return PlanQuestion(
        lawns=lawns_in_order(sent),
        grass=grass_of(sent),
        pack=sent.text("pack") or None,
        machine=sent.text("machine") or None,
        level=percent_of(sent, "level", "certainty", low=50, high=99.9) or 0.95,
        start_charge=percent_of(sent, "start_charge", "charge at the start"),
        temperature_c=_temperature(sent, "temperature_c"),
        reserve=percent_of(sent, "reserve", "reserve", high=90) or 0.0,
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
        sure=percent_of(sent, "sure", "certainty", low=50, high=99.5) or 0.95,
        reserve=_given(percent_of(sent, "reserve", "reserve", high=60), 0.10),
        capacity_at_end=percent_of(sent, "capacity_at_end", "capacity at end of life", low=30) or 0.80,
        resistance_at_end=_resistance(sent),
        coldest_c=_temperature(sent, "coldest_c"),
        sizes_ah=_sizes(sent.text("sizes_ah")),
    )


def _resistance(sent: Sent) -> float:
    value = number_of(sent, "resistance_at_end", "resistance at end of life")
    if value is not None and not 1 <= value <= 5:
        raise InputError(f"resistance at end of life is {value:g} times new", mend="give 1 to 5")
    return _given(value, 1.5)


def _sizes(text: str) -> tuple[float, ...]:
    """Sizes [Ah] that can be bought, separated by spaces or semicolons."""
    parts = text.replace(";", " ").split()
    if len(parts) > MOST_SIZES:
        raise InputError(f"{len(parts)} sizes are named", mend=f"name {MOST_SIZES} at most")
    sizes = tuple(needed_number(Sent({"size": part}, {}), "size", "size of a pack") for part in parts)
    if any(not 0 < size <= 10_000 for size in sizes):
        raise InputError("a size of a pack is not above zero", mend="give Ah, such as 8 10 12")
    return sizes


def minutes_question(sent: Sent, files: tuple[tuple[str, bytes], ...] = ()) -> MinutesQuestion:
    """Minutes left."""
    return MinutesQuestion(
        files=files,
        pack=sent.text("pack") or None,
        start_charge=percent_of(sent, "start_charge", "charge at the start"),
        temperature_c=_temperature(sent, "temperature_c"),
        lawn=sent.text("go_on_as") or None,
        level=percent_of(sent, "level", "certainty of the band", low=50, high=99.9) or 0.90,
    )


def _temperature(sent: Sent, name: str) -> float | None:
    value = number_of(sent, name, "temperature")
    if value is not None and not -40 <= value <= 70:
        raise InputError(f"temperature is {value:g} °C", mend="give degrees Celsius from -40 to 70")
    return value


def _given(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
