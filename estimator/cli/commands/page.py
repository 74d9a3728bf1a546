"""The command that serves the page."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.options import LogbookPath
from estimator.errors import InputError


def page(
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Where to listen.")] = 8719,
    open_to_network: Annotated[
        bool,
        typer.Option("--open-to-network", help="Let paired devices of the whole network in, such as phones."),
    ] = False,
    certificate: Annotated[
        str | None,
        typer.Option("--certificate", metavar="FILE", help="Your own certificate to encrypt with (PEM)."),
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", metavar="FILE", help="The key of your certificate (PEM).")
    ] = None,
    not_encrypted: Annotated[
        bool,
        typer.Option("--not-encrypted", help="Send everything unencrypted, pairing links and uploads too."),
    ] = False,
    follow: Annotated[
        str | None,
        typer.Option("--follow", metavar="FILE", help="Show the mow that a logger is writing, live."),
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Open the page in a browser, for phones in the shed too; stop it with Ctrl-C.

    Example: mowcharge page --port 8719
    """

    try:
        from estimator.page.serve import serve
    except ImportError as error:
        missing = error.name or "a library"
        raise InputError(
            f"{missing} is missing, which the page needs", mend='pip install "mowcharge[page]"'
        ) from None
    serve(
        logbook, port=port, beyond=open_to_network, certificate=certificate, key=key, plain=not_encrypted,
        follow=follow,
    )  # fmt: skip
