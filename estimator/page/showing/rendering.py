"""Make a response from a template and its figures.

Also draws a small picture: a lawn striped as far as it is likely to be mown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial
from secrets import token_urlsafe
from typing import Any
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from estimator.answers.cautions import due_cautions
from estimator.conversion import cautions
from estimator.descriptions import MOISTURE_SIGNS, TAGS_THAT_COUNT, Pack
from estimator.logbook import history
from estimator.page.door.access import Doors
from estimator.page.door.guards import SESSION_COOKIE
from estimator.page.settings import PageSettings
from estimator.page.showing import words
from estimator.page.showing.assets import MANIFEST, asset
from estimator.report.words.change_text import changed_words

VISITOR_COOKIE = "mowcharge_visitor"


@dataclass(frozen=True)
class Way:
    """One entry of the navigation; `where` is "phone-only", "wide-only", "" (both) or "rest"."""

    path: str
    name: str
    icon: str
    where: str = ""


WAYS = (
    Way("/", "Shed", "shed"),
    Way("/add", "Add a mow", "plus"),
    Way("/lawns", "Lawns today", "lawn"),
    Way("/minutes", "Minutes left", "watch"),
    Way("/more", "More", "more", "phone-only"),
    Way("/mows", "All mows", "list", "wide-only"),
    Way("/capacity", "Which pack", "pack", "wide-only"),
    Way("/seasons", "Seasons", "leaf", "wide-only"),
    Way("/life", "Life of the pack", "years", "wide-only"),
    Way("/compare", "Before and after", "scales", "wide-only"),
    Way("/record", "Track record", "record", "wide-only"),
    Way("/conversion", "Conversion", "wire", "wide-only"),
    Way("/list", "Equipment and lawns", "tag", "wide-only rest"),
    Way("/logbook", "Logbook", "book", "wide-only"),
)

REST = (
    Way("/waiting", "Waiting to be kept", "list"),
    Way("/grass", "Judging grass", "lawn"),
    Way("/seasons/report", "All answers, to print", "leaf"),
    Way("/devices", "Phones and devices", "record"),
)
"""Pages listed under More besides those of the navigation."""


@dataclass(frozen=True)
class PackLink:
    """One pack to choose at the top of an answer: its name, its capacity, the address that asks about it."""

    name: str
    says: str
    path: str
    chosen: bool


def pack_links(request: Request, packs: Sequence[Pack], chosen: str | None) -> tuple[PackLink, ...]:
    """This address's question for each pack; empty where there is no choice."""
    query = [(name, text) for name, text in request.query_params.multi_items() if name != "pack"]
    links = (
        PackLink(
            pack.name,
            pack.says,
            f"{request.url.path}?{urlencode([('pack', pack.name), *query])}",
            pack.name == chosen,
        )
        for pack in packs
    )
    return tuple(links) if len(packs) > 1 else ()


@cache
def templates() -> Environment:
    """The templates; everything put into them is escaped, and a missing figure is an error."""
    found = Environment(
        loader=PackageLoader("estimator.page"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters.update(words.FILTERS)
    found.globals.update(
        css=asset("mow.css"),
        js=asset("mow.js"),
        picture_js=asset("picture.js"),
        manifest=asset(MANIFEST),
        sign=asset("sign.svg"),
        ways=WAYS,
    )
    found.globals.update(caution=cautions, signs=MOISTURE_SIGNS)
    found.globals["bar"] = lawn_bar
    found.globals["tag_hint"] = f"separated by commas, such as new cable; {TAGS_THAT_COUNT}"
    return found


def page(
    request: Request,
    template: str,
    *,
    status: int | None = None,
    problem: str | None = None,
    missing: str | None = None,
    **figures: Any,
) -> Response:
    """Render a page for this visitor, with the token that its forms send back; a problem makes it a 422."""
    settings: PageSettings = request.app.state.settings
    doors: Doors = request.app.state.doors
    visitor = visitor_of(request)
    fresh = visitor or token_urlsafe(18)
    first = "/" + request.url.path.strip("/").split("/")[0]
    text = (
        templates()
        .get_template(template)
        .render(
            here=first if any(way.path == first for way in WAYS) else request.url.path,
            settings=settings,
            due=partial(due_cautions, request.app.state.book),
            token=doors.form_token(fresh),
            problem=problem,
            missing=missing,
            said=_said(request),
            **figures,
        )
    )
    response = HTMLResponse(words.unbroken(text), status_code=status or (422 if problem else 200))
    if visitor is None:
        set_cookie(request, response, VISITOR_COOKIE, fresh)
    return response


def _said(request: Request) -> str | None:
    """What was just done; of a description that is named as `of`, what its latest edit changed."""
    told, of = (request.query_params.get(each, "") for each in ("said", "of"))
    edits = history(request.app.state.book, of) if told == "changed" and of else ()
    if changed := [each for edit in edits[-1:] for each in changed_words(edit)]:
        return f"{of[0].upper()}{of[1:]}: {'; '.join(changed)}. The old value stays in the history."
    return words.SAID.get(told)


def visitor_of(request: Request) -> str | None:
    """What form tokens are bound to: the session if there is one, else a random cookie."""
    return request.cookies.get(SESSION_COOKIE) or request.cookies.get(VISITOR_COOKIE)


def set_cookie(request: Request, response: Response, name: str, value: str) -> None:
    """Set a cookie that scripts cannot read and other sites cannot send; under https, never unencrypted."""
    secure = request.url.scheme == "https"
    response.set_cookie(name, value, httponly=True, samesite="strict", path="/", secure=secure)


def go_to(path: str, said: str | None = None, **fields: str) -> Response:
    """Send the browser on after a form was taken; `said` names a sentence in `words.SAID`."""
    query = urlencode({**fields, **({"said": said} if said else {})})
    return RedirectResponse(f"{path}?{query}" if query else path, status_code=303)


WIDTH = 300
"""Width of the bar of odds, in its own units."""
STRIPE = 12
"""Width of one stripe of mown lawn."""


def lawn_bar(odds: float, level: float) -> Markup:
    """A lawn as mown stripes; the mown part is the chance of finishing, the tick the certainty wanted.

    The words next to it say the same, so the bar itself is hidden from screen readers.

    >>> lawn_bar(0.5, 0.95).count("<rect")
    14
    """
    odds = min(max(odds, 0.0), 1.0)
    mown = odds * WIDTH
    stripes = [
        f'<rect class="{"mown-b" if place % 2 else "mown-a"}" x="{place * STRIPE}" y="0" '
        f'width="{min(STRIPE, mown - place * STRIPE):.1f}" height="16"/>'
        for place in range(WIDTH // STRIPE)
        if mown > place * STRIPE
    ]
    tick = level * WIDTH
    return Markup(
        f'<svg viewBox="0 0 {WIDTH} 16" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="unmown" x="0" y="0" width="{WIDTH}" height="16"/>{"".join(stripes)}'
        f'<path class="tick" d="M{tick:.1f} 0V16"/></svg>'
    )
