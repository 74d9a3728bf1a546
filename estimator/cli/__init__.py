"""The command line: loads, asks, prints. Everything it says comes from answers and report."""

from __future__ import annotations

import errno
import os
import re
import sys
from difflib import get_close_matches
from typing import Any

STOPPED = 130
"""What the option parser returns when the user has pressed Ctrl-C."""


def main() -> None:
    """Run the command line; every failure is one line on stderr and an exit code.

    Exit codes: 0 answered, 1 could not be answered, 2 bad input, 3 trouble with the logbook.
    """
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        # matrices here are small: several threads would wait for each other longer than they save
        os.environ.setdefault(threads, "1")
    from estimator.cli.typing_habits import asked_by_bash, complete_in_bash

    if asked_by_bash():
        return complete_in_bash(lambda: _run([]))
    from estimator.cli.output import shown

    with shown():
        code = _run(sys.argv[1:])
    sys.exit(code)


def _run(arguments: list[str]) -> int:
    import typer

    from estimator.cli.group import UsageTrouble, build
    from estimator.errors import MowchargeError

    command = build()
    try:
        code = command.main(arguments, prog_name="mowcharge", standalone_mode=False)
        _flush()
        if code == STOPPED:
            return _fail("stopped", 1)
        return code if isinstance(code, int) else 0
    except MowchargeError as error:
        from estimator.cli.named_files import as_option

        code = _fail(error.said(as_option), error.exit_code)
        if error.table is not None and sys.stderr is not None:
            from estimator.report.words.refused_text import refused_text

            sys.stderr.write(f"{refused_text(error.table, as_option)}\n")
        return code
    except UsageTrouble as error:
        return _fail(_usage_line(error, arguments), 2)
    except (typer.Abort, KeyboardInterrupt):
        return _fail("stopped", 1)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        if error.errno != errno.ENOSPC:
            return _fail(_about_file(error), 2) if error.filename else _fail(_unexpected(error), 1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _fail("no space is left to write to; make room or write elsewhere", 1)
    except Exception as error:
        return _fail(_unexpected(error), 1)


def _flush() -> None:
    if sys.stdout is not None:  # None where the shell closed it
        sys.stdout.flush()


def _fail(line: str, code: int) -> int:
    _flush()
    if sys.stderr is not None:
        sys.stderr.write(f"mowcharge: {line}\n")
    return code


def _usage_line(error: Exception, arguments: list[str]) -> str:
    if hasattr(error, "possibilities"):  # only the parser's error for an unknown option has them
        return _unknown_option(error.option_name, error.ctx)  # type: ignore[attr-defined]
    line = " ".join(error.format_message().split()).rstrip(".")  # type: ignore[attr-defined]
    context = getattr(error, "ctx", None)
    if context is None or line.endswith("?"):
        return line
    missing = _missing_options(context.command, arguments)
    is_missing = hasattr(error, "param_type")  # only the parser's error for something missing has this
    if len(missing) > 1 and is_missing and getattr(error, "param", None) in context.command.params:
        line = f"Missing options {', '.join(missing[:-1])} and {missing[-1]}"
    return f"{line}; see {context.command_path} --help"


def _unknown_option(wrong: str, context: Any) -> str:
    """What may have been meant: an option of a like name, one of another command, or one about that word."""
    about = {opt[2:]: (each.help or "").casefold() for each in context.command.params for opt in each.opts}
    near = get_close_matches(wrong[2:], about, n=1, cutoff=0.7)
    words = tuple(word for word in wrong.split("-") if len(word) > 1)
    if not near and context.parent is not None:
        every = context.parent.command
        for name in every.list_commands(context):
            if any(wrong in each.opts for each in every.get_command(context, name).params):
                return f"there is no option {wrong} here; mowcharge {name} takes it"
    near = near or [
        opt
        for opt, said in about.items()
        if any(each.startswith(words) for each in re.findall(r"[^\W_]+", f"{opt} {said}"))
    ]
    off = re.fullmatch(r"--(?:un|no-|remove-|clear-)(.+)", wrong)
    if off and off[1] in about and "blank" in about:
        return f"there is no option {wrong}; --blank {off[1]} takes it back"
    meant = f"did you mean --{near[0]}?" if near else f"see {context.command_path} --help"
    return f"there is no option {wrong}; {meant}"


def _missing_options(command: Any, arguments: list[str]) -> list[str]:
    """All options that a command needs and did not get; the parser itself stops at the first of them."""
    given = {each.partition("=")[0] for each in arguments}
    return [
        f"'{each.opts[0]}'"
        for each in command.params
        if each.required and each.param_type_name == "option" and not given & set(each.opts)
    ]


def _about_file(error: OSError) -> str:
    return f"{error.filename}: {error.strerror or error}; check its name and the permissions of its folders"


def _unexpected(error: Exception) -> str:
    """Write the details to a file that the user can send; returns the line that says where."""
    import tempfile
    import traceback

    kind = type(error).__name__
    try:  # the folder is shared: mkstemp gives a name that nobody can guess, readable by its owner alone
        number, kept = tempfile.mkstemp(prefix="mowcharge-trouble-", suffix=".txt")
        with os.fdopen(number, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write("".join(traceback.format_exception(error)))
    except OSError:
        return f"this should not happen ({kind}: {' '.join(str(error).split())}); please report it"
    return f"this should not happen ({kind}); please report it and send along {kept}"
