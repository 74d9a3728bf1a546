"""All hobby files in one list; `python hobby_files.py FOLDER` writes them."""

from __future__ import annotations

import sys
from pathlib import Path

from hobby_clocks import CLOCKS
from hobby_devices import DEVICES
from hobby_exports import EXPORTS
from hobby_histories import HISTORIES
from hobby_mow import HobbyFile
from hobby_sheets import SHEETS
from hobby_sketches import SKETCHES

WRITERS = (*SKETCHES, *SHEETS, *CLOCKS, *DEVICES, *HISTORIES, *EXPORTS)


def hobby_files(folder: Path) -> list[HobbyFile]:
    """Write every file into the folder: the same readings each time."""
    return [write(folder) for write in WRITERS]


if __name__ == "__main__":
    for file in hobby_files(Path(sys.argv[1])):
        print(f"{file.name:24s} {file.truth or 'nothing to read'}  {file.why}")
