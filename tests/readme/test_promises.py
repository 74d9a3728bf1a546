"""What the project promises: each line names a test that exists."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_each_promise_is_a_test() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## What is promised", 1)[1].split("Not promised:", 1)[0]
    lines = [line for line in table.splitlines() if line.startswith("|")][2:]
    tests = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    defined = set(re.findall(r"^def (test_\w+)\(", tests, re.MULTILINE))
    assert len(lines) >= 15
    for line in lines:
        assert re.fullmatch(r"\| .+ \| .+ \| `(test_\w+)` \|", line), line
        assert line.split("`")[-2] in defined, line
