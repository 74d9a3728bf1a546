"""Lets the benchmarks import each other, and what they share with the tests, by name."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "profile"), str(HERE.parent / "page")]
