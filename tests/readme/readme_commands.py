"""The commands that the README shows, run one after another in a folder of their own.

`python tests/readme/readme_commands.py` writes what they print now into the README.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


@dataclass(frozen=True)
class Shown:
    """One command of the README and what is printed below it."""

    command: str
    output: str


def shown_commands(text: str) -> list[list[Shown]]:
    """Commands of each console block, in order."""
    blocks = []
    for body in BLOCK.findall(text):
        parts = re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]
        blocks.append([Shown(*part.split("\n", 1)) for part in parts])
    return blocks


def run_in_turn(commands: list[str], folder: Path) -> list[str]:
    """What each command prints (both streams, in one shell session's environment)."""
    (folder / "sample_logs").symlink_to(ROOT / "sample_logs")
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "MOWCHARGE_LOGBOOK": str(folder / "own.sqlite"),
        "COLUMNS": "78",
        "NO_COLOR": "1",
        "PYTHONWARNINGS": "default",
    }
    printed = []
    for command in commands:
        named = re.fullmatch(r"export (\w+)=(\S+)", command)
        if named:
            environment[named[1]] = named[2]
            printed.append("")
            continue
        done = subprocess.run(
            ["bash", "-c", command],
            cwd=folder,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=600,
            check=False,
        )
        printed.append(done.stdout.replace(f"{folder}{os.sep}", ""))
    return printed


def refreshed(text: str, printed: list[str]) -> str:
    """The README with what the commands print now."""
    left = iter(printed)

    def block(found: re.Match[str]) -> str:
        parts = re.split(r"^\$ ", found[1], flags=re.MULTILINE)[1:]
        return "```console\n" + "".join(f"$ {p.split(chr(10), 1)[0]}\n{next(left)}" for p in parts) + "```"

    return BLOCK.sub(block, text)


if __name__ == "__main__":
    text = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as scratch:
        commands = [shown.command for block in shown_commands(text) for shown in block]
        printed = run_in_turn(commands, Path(scratch))
    if trouble := [p for p in printed if "should not happen" in p or "Traceback" in p]:
        sys.exit(f"not written: {trouble}")
    README.write_text(refreshed(text, printed), encoding="utf-8")
