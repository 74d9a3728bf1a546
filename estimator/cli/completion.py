"""Completion in bash, which puts a name with blanks on the line as it comes: there it needs backslashes."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from contextlib import redirect_stdout


def asked_by_bash() -> bool:
    """Whether it is bash that runs this command, to complete what is being typed."""
    return os.environ.get("_MOWCHARGE_COMPLETE") == "complete_bash"


def complete_in_bash(complete: Callable[[], object]) -> None:
    """Print what `complete` prints, each line as it must stand on bash's command line."""
    said = io.StringIO()
    try:
        with redirect_stdout(said):
            complete()
    finally:
        words, at = os.environ.get("COMP_WORDS", "").split("\n"), int(os.environ.get("COMP_CWORD") or 0)
        typed = words[at] if at < len(words) else ""
        print("\n".join(on_the_line(name, typed) for name in said.getvalue().splitlines()))


def on_the_line(name: str, typed: str = "") -> str:
    r"""A name as it stands on bash's command line, after what has been typed of it.

    >>> print(on_the_line("apple rows", "ap"), on_the_line("apple rows", '"ap'))
    apple\ rows apple rows
    """
    return name if typed[:1] in ("'", '"') else re.sub(r"([^\w@%+=:,./-])", r"\\\1", name)
