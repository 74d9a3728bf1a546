"""The modules of the world find each other beside themselves."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "judgements"), str(HERE / "by_hand")]
