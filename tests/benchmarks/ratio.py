"""What a benchmark gives: ratios of two costs measured in one run, and functions to measure them."""

from __future__ import annotations

import resource
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Ratio:
    """The cost of one thing over that of another.

    at_most : the target, None where there is none; how : which runs, warm or cold; costs : both in figures
    """

    what: str
    beside: str
    ratio: float
    at_most: float | None
    how: str
    costs: str

    @property
    def missed(self) -> bool:
        """Whether the target was not met."""
        return self.at_most is not None and self.ratio > self.at_most


def said(ratio: float | None) -> str:
    """A ratio in words, a small one as a fraction.

    >>> said(1.284), said(0.00134), said(None)
    ('1.28', '1/746', '')
    """
    if ratio is None:
        return ""
    return f"1/{1 / ratio:.0f}" if 0 < ratio < 0.095 else f"{ratio:.2f}"


def seconds(call: Callable[[], object]) -> float:
    """Processor time [s], user and system, of one call in this process."""
    began = time.process_time()
    call()
    return time.process_time() - began


def all_seconds(call: Callable[[], object], runs: int) -> list[float]:
    """Processor time [s] of each of several calls."""
    return [seconds(call) for _ in range(runs)]


def child_seconds(words: Sequence[str]) -> float:
    """Processor time [s], user and system, of a whole child process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def beside(ours: float, theirs: float, unit: str = "s") -> str:
    """Two costs in figures, to two digits each.

    >>> beside(0.0671, 1234.5)
    '0.067 s beside 1,200 s'
    """
    first, second = (f"{float(f'{cost:.2g}'):,g}" for cost in (ours, theirs))
    return f"{first} {unit} beside {second} {unit}"
