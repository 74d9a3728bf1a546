"""Coverage-guided fuzzing of the importer; not part of the suite, run by hand.

    python -m pip install atheris
    python tests/importer/fuzz_atheris.py -runs=120000 -max_len=400 -timeout=2 -rss_limit_mb=1500
    CORPUS_FOLDER

CORPUS_FOLDER is filled with the invented corpus first (small heads of its files) when it is empty. Each
input is read as a file, as two files (split at a NUL) or under choices of the user, by its first byte.
Anything but a log
or an InputError of one line ends the run with the input that caused it; so does an input that takes over 2
s.

Run to its end on version 0.1.0: 110,000 inputs of up to 256 bytes without a fault, no input over one
second, at most 185 MB. What earlier runs found is mended and kept as examples in `test_examine.py`.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path


def seed(folder: Path) -> None:
    """Fill an empty folder with heads of the corpus files."""
    sys.path.insert(0, str(Path(__file__).parent / "corpus"))
    from make_corpus import all_cases

    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        return
    for number, case in enumerate(all_cases()):
        for name, data in case.files:
            (folder / f"{number:03d}_{name}").write_bytes(bytes([number % 4]) + data[:300])


def main() -> None:
    """Run the fuzzer; its own options follow on the command line."""
    import atheris

    folder = next((Path(a) for a in sys.argv[1:] if not a.startswith("-")), None)
    if folder is not None:
        seed(folder)
    with atheris.instrument_imports(include=["estimator.importer"]):
        from estimator.errors import InputError
        from estimator.importer.read import read_bytes
    import numpy as np

    warnings.simplefilter("error")

    def one_input(data: bytes) -> None:
        way, content = (data[0] % 4 if data else 0), data[1:]
        files = [("fuzz.csv", content)]
        choices: dict[str, object] = {"max_bytes": 2_000_000, "max_rows": 10_000}
        if way == 1:
            first, _, second = content.partition(b"\x00")
            files = [("a.csv", first), ("b.csv", second)] if second else files
        elif way == 2:
            choices["columns"] = {"time": 1, "current": 2, "voltage": 3}
        elif way == 3:
            choices |= {"day_first": True, "zero_a": 0.1, "reverse": True}
        try:
            log = read_bytes(files, **choices)  # type: ignore[arg-type]
        except InputError as error:
            if "\n" in str(error) or not error.mend:
                raise RuntimeError(f"no mend in one line: {error}") from error
            return
        r = log.readings
        if (
            not np.isfinite(r[["time_s", "current_a", "voltage_v"]].to_numpy()).all()
            or (np.diff(r.time_s) < 0).any()
        ):
            raise RuntimeError("a log that is not sound")

    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
