"""The diary of an orchard that does not exist, and how its people would describe their equipment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from invented_mowing import AREA_M2

FIRST_CHARGE = date(2024, 4, 1)
BLADE_CARE = (date(2024, 3, 30), date(2025, 6, 20))


@dataclass(frozen=True)
class Planned:
    """One line of the orchard's diary."""

    name: str
    start: str
    lawn: str
    moisture: str
    growth_mm: float
    pack: str
    air_c: float
    form: str = "iso"
    every_s: float = 2.0
    tags: tuple[str, ...] = ()
    stops_at: float | None = None

    @property
    def start_charge(self) -> float | None:
        """1 straight from the charger; None where an earlier mow had used the same charge."""
        return 1.0 if self.stops_at is None else None

    @property
    def when(self) -> datetime:
        """When the mow begins."""
        return datetime.fromisoformat(self.start)

    @property
    def day(self) -> date:
        """The day of the mow."""
        return self.when.date()


GREEN, OLD = "green crate", "old box"
CHAPEL, APPLE, MEADOW = "chapel strip", "apple rows", "far meadow"
OFF, SHARP, SHORT = "rear roller off", "blades sharpened", "stopped short"

DIARY = (
    Planned("2024-04-13a", "2024-04-13 09:40:00", APPLE, "damp", 30, GREEN, 11.0, "iso", 1.0),
    Planned("2024-04-20a", "2024-04-20 10:05:00", CHAPEL, "dry", 22, OLD, 13.0, "elapsed", 1.0),
    Planned("2024-04-27a", "2024-04-27 14:10:00", MEADOW, "dry", 26, GREEN, 16.0, "semicolon"),
    Planned("2024-05-04a", "2024-05-04 09:30:00", APPLE, "wet", 38, GREEN, 12.0, "stopwatch", 1.0),
    Planned("2024-05-11a", "2024-05-11 11:20:00", CHAPEL, "damp", 28, OLD, 17.0, "milliamps"),
    Planned("2024-05-18a", "2024-05-18 09:15:00", MEADOW, "wet", 40, GREEN, 15.0, "iso"),
    Planned("2024-05-18b", "2024-05-18 10:30:00", APPLE, "wet", 34, GREEN, 16.0, "iso", 1.0, (SHORT,),
            0.96),
    Planned("2024-06-01a", "2024-06-01 15:00:00", APPLE, "dry", 18, GREEN, 22.0, "preamble", 1.0),
    Planned("2024-06-08a", "2024-06-08 15:30:00", CHAPEL, "dry", 12, OLD, 24.0, "iso", 1.0),
    Planned("2024-06-22a", "2024-06-22 10:00:00", MEADOW, "damp", 24, GREEN, 19.0, "elapsed"),
    Planned("2024-07-06a", "2024-07-06 16:20:00", APPLE, "dry", 11, GREEN, 27.0, "two meters", 1.0),
    Planned("2024-07-20a", "2024-07-20 17:00:00", MEADOW, "dry", 10, GREEN, 29.0, "semicolon"),
    Planned("2024-08-10a", "2024-08-10 10:10:00", APPLE, "damp", 20, OLD, 21.0, "iso", 1.0),
    Planned("2024-08-31a", "2024-08-31 11:00:00", CHAPEL, "damp", 24, GREEN, 18.0, "spot notes", 1.0),
    Planned("2024-09-14a", "2024-09-14 10:40:00", APPLE, "wet", 32, GREEN, 13.0, "milliamps"),
    Planned("2024-09-28a", "2024-09-28 11:30:00", MEADOW, "damp", 30, OLD, 12.0, "iso", 2.0, (SHORT,),
            0.97),
    Planned("2024-10-12a", "2024-10-12 13:00:00", MEADOW, "wet", 28, GREEN, 9.0, "stopwatch"),
    Planned("2025-04-12a", "2025-04-12 10:00:00", APPLE, "damp", 31, GREEN, 10.0, "iso", 1.0),
    Planned("2025-04-19a", "2025-04-19 10:15:00", CHAPEL, "damp", 26, OLD, 12.0, "elapsed", 1.0),
    Planned("2025-04-26a", "2025-04-26 13:40:00", MEADOW, "dry", 27, GREEN, 17.0, "semicolon"),
    Planned("2025-05-03a", "2025-05-03 09:20:00", APPLE, "wet", 37, GREEN, 13.0, "stopwatch", 1.0),
    Planned("2025-05-17a", "2025-05-17 09:10:00", MEADOW, "wet", 41, GREEN, 14.0, "iso"),
    Planned("2025-05-17b", "2025-05-17 10:40:00", CHAPEL, "wet", 36, GREEN, 15.0, "iso", 1.0, (SHORT,),
            0.95),
    Planned("2025-05-31a", "2025-05-31 14:50:00", APPLE, "dry", 19, GREEN, 21.0, "preamble", 1.0),
    Planned("2025-06-14a", "2025-06-14 15:10:00", CHAPEL, "dry", 14, OLD, 25.0, "reversed", 1.0),
    Planned("2025-06-21a", "2025-06-21 10:20:00", MEADOW, "damp", 25, GREEN, 20.0, "elapsed", 2.0, (SHARP,)),
    Planned("2025-07-05a", "2025-07-05 16:40:00", APPLE, "dry", 12, GREEN, 28.0, "iso", 1.0, (SHARP,)),
    Planned("2025-07-19a", "2025-07-19 16:10:00", APPLE, "dry", 15, GREEN, 26.0, "iso", 1.0, (SHARP, OFF)),
    Planned("2025-08-02a", "2025-08-02 10:30:00", CHAPEL, "damp", 21, GREEN, 20.0, "milliamps", 1.0,
            (SHARP, OFF)),
    Planned("2025-08-16a", "2025-08-16 11:10:00", MEADOW, "dry", 16, GREEN, 23.0, "iso", 2.0, (SHARP, OFF)),
    Planned("2025-08-30a", "2025-08-30 10:50:00", APPLE, "damp", 22, OLD, 19.0, "semicolon", 1.0,
            (SHARP, OFF)),
    Planned("2025-09-13a", "2025-09-13 11:00:00", APPLE, "wet", 33, GREEN, 14.0, "iso", 1.0, (SHARP,)),
    Planned("2025-09-27a", "2025-09-27 11:20:00", MEADOW, "wet", 29, GREEN, 11.0, "stopwatch", 2.0,
            (SHARP, SHORT), 0.98),
    Planned("2025-10-11a", "2025-10-11 13:10:00", APPLE, "damp", 24, OLD, 10.0, "elapsed", 1.0,
            (SHARP, SHORT), 0.96),
)  # fmt: skip

ORCHARD = {
    "invented": "All names and numbers here are made up; none is of a real place, person or product.",
    "lawns": [{"name": name, "area_m2": area} for name, area in AREA_M2.items()],
    "packs": [
        {"name": GREEN, "chemistry": "nmc", "series": 13, "capacity_ah": 10.0, "cut_off_v": 39.0,
         "current_limit_a": 25.0, "string_ah": 2.5, "first_year": FIRST_CHARGE.year},
        {"name": OLD, "chemistry": "lfp", "series": 12, "capacity_ah": 10.0, "cut_off_v": 30.0,
         "current_limit_a": 25.0, "first_year": 2021},
    ],
    "machines": [
        {"name": "cylinder mower", "kind": "cylinder", "cutting_width_m": 0.43, "pace_m_s": 1.1,
         "motor_rated_w": 1200.0, "blade_care": [d.isoformat() for d in BLADE_CARE]},
    ],
    "meters": [
        {"name": "shed clamp", "current_zero_a": 0.1, "current_gain": 0.01, "voltage_zero_v": 0.05,
         "voltage_gain": 0.003, "current_noise_a": 0.03, "voltage_noise_v": 0.02},
    ],
}  # fmt: skip
