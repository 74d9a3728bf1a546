"""Forms: their token is checked, their fields are text, their files are bytes."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from estimator.amounts import AMOUNTS, check_amount, from_percent
from estimator.errors import InputError
from estimator.page.showing.rendering import visitor_of
from estimator.written import number

MOST_FIELDS = 200
"""More fields than any form of the page has; bounds the work of one request."""
MOST_FILES = 40
"""How many files can be sent at once; one recording has two at most."""
Endpoint = Callable[[Request], Coroutine[Any, Any, Response]]


class Fields(dict[str, str]):
    """The texts of a form by field; a field that was not sent is blank.

    >>> Fields(area="420")["name"]
    ''
    """

    def __missing__(self, name: str) -> str:
        return ""


@dataclass(frozen=True)
class Sent:
    """What a form brought: one text for each field, all texts of repeated fields, files as (name, content).

    percent : whether shares are percentages, as people write them, or 0..1, as scripts do
    """

    fields: Mapping[str, str]
    every: Mapping[str, Sequence[str]]
    files: tuple[tuple[str, bytes], ...] = ()
    percent: bool = True

    def text(self, name: str) -> str:
        """The text of a field, without blanks around it; empty where it was not sent."""
        return self.fields.get(name, "").strip()

    def all(self, name: str) -> list[str]:
        """Every text of a repeated field, in order."""
        return [text.strip() for text in self.every.get(name, ())]


async def read_sent(request: Request, *, percent: bool = True) -> Sent:
    """Read a form; files beyond the first megabyte wait on disk while they come in."""
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS) as form:
        fields: dict[str, str] = {}
        every: dict[str, list[str]] = {}
        files: list[tuple[str, bytes]] = []
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                if value.filename or value.size:
                    files.append((value.filename or "log", await value.read()))
            else:
                fields.setdefault(name, value)
                every.setdefault(name, []).append(value)
    return Sent(fields, every, tuple(files), percent)


def sent_query(request: Request, *, percent: bool = True) -> Sent:
    """The fields of an address, read like those of a form."""
    query = request.query_params
    return Sent(dict(query), {name: query.getlist(name) for name in query}, percent=percent)


def takes_form(handler: Callable[[Request, Sent], Response]) -> Endpoint:
    """An endpoint that checks the form's token and passes the form to `handler` outside the event loop."""

    async def endpoint(request: Request) -> Response:
        sent = await read_sent(request)
        if not request.app.state.doors.is_form_token(visitor_of(request), sent.text("form_token")):
            raise HTTPException(
                403, "this form was shown too long ago; open the page again and send it once more"
            )
        return await run_in_threadpool(handler, request, sent)

    return endpoint


def number_of(sent: Sent, name: str, what: str, unit: str = "") -> float | None:
    """A number from a field, which may have a decimal comma or its unit; None where it is blank.

    >>> number_of(Sent({"growth_mm": " 2,5"}, {}), "growth_mm", "growth")
    2.5
    """
    text = sent.text(name)
    return number(text, what, unit) if text else None


def amount_of(sent: Sent, name: str) -> float | None:
    """A known amount from the field of its name, a share as 0..1; None where it is blank.

    >>> amount_of(Sent({"sure": "95"}, {}), "sure")
    0.95
    """
    amount = AMOUNTS[name]
    percent = amount.share and sent.percent
    value = number_of(sent, name, amount.words, "%" if percent else amount.unit)
    if value is not None and percent:
        value = from_percent(name, value)
    check_amount(name, value)
    return value


def amounts_of(sent: Sent, *names: str) -> dict[str, Any]:
    """Known amounts from the fields of their names, None where they are blank."""
    return {name: amount_of(sent, name) for name in names}


def amount_or(sent: Sent, name: str, usual: float) -> float:
    """A known amount from the field of its name; the usual one where it is blank."""
    found = amount_of(sent, name)
    return usual if found is None else found


def needed_amount(sent: Sent, name: str) -> float:
    """A known amount from a field that must not be blank."""
    found = amount_of(sent, name)
    if found is None:
        raise InputError(f"{AMOUNTS[name].words} is missing", mend="give a number")
    return found


def needed_number(sent: Sent, name: str, what: str) -> float:
    """A number from a field that must not be blank."""
    found = number_of(sent, name, what)
    if found is None:
        raise InputError(f"{what} is missing", mend="give a number")
    return found
