"""What a check of the logbook found, as text."""

from __future__ import annotations

from estimator.logbook.checking import CheckReport
from estimator.report.text import paragraph


def check_text(found: CheckReport, width: int) -> str:
    """One line if all is well, else one for each problem.

    >>> check_text(CheckReport(mows=3, files=4, file_bytes=5000, problems=()), 72)
    'All is well: 3 mows, 4 files, 5000 bytes; every checksum holds.'
    """
    counted = f"{found.mows} mows, {found.files} files, {found.file_bytes} bytes"
    if not found.problems:
        return f"All is well: {counted}; every checksum holds."
    lines = [f"{len(found.problems)} problems in {counted}:"]
    lines.extend(paragraph(problem, width, "  - ") for problem in found.problems)
    return "\n".join(lines)
