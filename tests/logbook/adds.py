"""A program that adds invented mows of one pack; a test runs several at once.

python tests/logbook/adds.py PLACE PROGRAM COUNT
"""

from __future__ import annotations

import random
import sys
from datetime import datetime, timedelta

from estimator.answers.keeping.keep import Circumstances, add_mow
from estimator.logbook import open_logbook


def invented_minutes(seed: str) -> bytes:
    """An invented meter file of five minutes, cutting and idling."""
    rng = random.Random(seed)
    volts = 54 - rng.random() / 4
    rows = []
    for second in range(300):
        amps = max(0.0, 7 + 5 * (second % 40 > 12) + rng.gauss(0, 0.7)) if 20 < second < 280 else 0.0
        rows.append(f"{second},{amps:.2f},{volts - 0.09 * amps - second / 900:.2f}\n")
    return ("time_s,current_a,voltage_v\n" + "".join(rows)).encode()


if __name__ == "__main__":
    place, program, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    with open_logbook(place) as book:
        for number in range(count):
            started = datetime(2025, 5, 1, 9) + timedelta(days=3 * number + program * (-1) ** number)
            said = Circumstances("orchard", "new one", start_charge=1.0, started=started)
            add_mow(book, [(f"{program} {number}.csv", invented_minutes(f"{program} {number}"))], said)
