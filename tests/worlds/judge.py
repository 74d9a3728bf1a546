"""Judge the estimator in a world that knows none of its models, by hand:

    python tests/worlds/judge.py WHAT [--half open] [--seasons 24] [--mows 4] [--json FILE]

WHAT is packs, odds, capacity, comparisons (mows on each side), life or hands (people who log nothing).

It calls the public library, except for comparisons and life, which the two adapters at the top of
`judgements/judge_changes.py` ask for. `--half closed` is for the end: after tuning on it, nothing is left to
check with.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

sys.path += [str(Path(__file__).parent / each) for each in ("judgements", "by_hand")]

from judge_changes import judge_comparisons, judge_life, show_comparisons, show_life
from judge_days import judge_capacity, judge_odds, show_capacity, show_odds
from judge_hands import judge_hands, show_hands
from judge_packs import judge_packs, show_packs

SHOW = {
    "packs": show_packs,
    "odds": show_odds,
    "capacity": show_capacity,
    "comparisons": show_comparisons,
    "life": show_life,
    "hands": show_hands,
}
JUDGE = {
    "odds": judge_odds,
    "capacity": judge_capacity,
    "comparisons": judge_comparisons,
    "life": judge_life,
    "hands": judge_hands,
}
USUAL_MOWS = {"packs": 4, "odds": 10, "capacity": 10, "comparisons": 10, "life": 20, "hands": 20}


def main() -> int:
    """Read the arguments, judge, print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("what", choices=list(SHOW))
    ask.add_argument(
        "--half", default="open", help="open, closed, or closed+24 after the first 24 of its seeds"
    )
    ask.add_argument("--seasons", type=int, default=24, help="how many packs or seasons")
    ask.add_argument("--mows", type=int, help="mows in each one's history")
    ask.add_argument("--chemistry", help="for packs: what every owner calls the pack, else the truth")
    ask.add_argument("--json", type=Path, help="also write every row to this file")
    said = ask.parse_args()
    mows = said.mows or USUAL_MOWS[said.what]
    if said.what == "packs":
        rows = judge_packs(said.half, said.seasons, mows, said.chemistry)
    else:
        rows = JUDGE[said.what](said.half, said.seasons, mows)
    SHOW[said.what](rows)
    if said.json:
        said.json.write_text(json.dumps(rows, indent=1, default=float), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
