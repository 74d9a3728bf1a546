"""Lets the modules of the world import each other by name."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "judgements"), str(HERE / "by_hand")]
