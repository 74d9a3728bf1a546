"""conversion: to come in the next steps."""

from __future__ import annotations

from starlette.routing import Route

ROUTES: list[Route] = []
