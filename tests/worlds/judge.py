"""Judge the estimator in a world that knows none of its models, by hand:

    python tests/worlds/judge.py packs [--half open] [--seasons 24] [--mows 4] [--chemistry lithium]

Calls the public contract only. `--half closed` is for the end: who tunes on it has nothing left to check.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from judge_packs import judge_packs, show_packs


def main() -> int:
    """Read what is wanted, judge, print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("what", choices=["packs"])
    ask.add_argument("--half", choices=["open", "closed"], default="open")
    ask.add_argument("--seasons", type=int, default=24, help="packs or seasons")
    ask.add_argument("--mows", type=int, default=4, help="mows in each one's history")
    ask.add_argument("--chemistry", help="what the owner calls every pack, else the truth")
    ask.add_argument("--json", type=Path, help="also write every row to this file")
    said = ask.parse_args()
    rows = judge_packs(said.half, said.seasons, said.mows, said.chemistry)
    show_packs(rows)
    if said.json:
        said.json.write_text(json.dumps(rows, indent=1, default=float), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
