"""Small pictures drawn by the page itself: a lawn striped as far as it is likely to be mown."""

from __future__ import annotations

from markupsafe import Markup

WIDTH = 300
STRIPE = 12


def lawn_bar(odds: float, level: float) -> Markup:
    """A lawn as mown stripes; the mown part is the chance of finishing, the tick the certainty asked for.

    The words beside it say the same, so the bar itself is hidden from screen readers.

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
