"""The usual cautions, worded once. They go with every answer that may make somebody touch the machine."""

from __future__ import annotations

BLADES = (
    "Take the battery off before you touch the blades: a brushless motor can start without warning, and a "
    "reel or blade turned by hand still cuts. Wear gloves, and block the blades before you work on them."
)
MEASURING = (
    "Clamp the cable before the blades turn. Never reach under a running mower to read a meter: let a second "
    "person read it, or use the hold button."
)
PROBES = (
    "Probes carry the whole pack's volts, and from about 60 V DC up a touch can kill: use leads and a meter "
    "rated for them, hold one probe at a time, keep metal off your hands. A tip that slips makes a short."
)
BUILDING = (
    "Building a pack is work for people trained in it. Pack, cable, fuse and controller must suit each "
    "other: makers' limits and local codes decide."
)
LITHIUM = (
    "Lithium cells can burn when they are short-circuited, crushed, charged below freezing or run past their "
    "limits. Leave the battery management in place, keep to the maker's limits, and do not open a pack."
)
CHARGING = (
    "Charge with a charger made for this chemistry and number of cells, on a surface that does not burn, "
    "within the maker's temperature range, and not unattended. Let a hot pack cool first."
)
FULL_DISCHARGE = (
    "Stay with a full discharge: blades that run until the cut-off are blades that run unwatched once you "
    "walk away. Keep people and animals off, take the blades off the drive where you can, and stop at once "
    "where pack, plug or cable gets hot."
)
PLUGGING_IN = (
    "Plugging a pack in can spark while the controller's capacitors fill: switch off first, push the plug "
    "home in one go, away from petrol fumes and charging lead-acid batteries. A worn plug burns: change it."
)
CONTROLLER = (
    "A controller's capacitors stay charged after the battery is off. Wait as long as its maker says, and "
    "measure that its volts are gone, before you touch its terminals or let tools near them."
)
LEAD_ACID = (
    "Lead-acid batteries give off hydrogen while charging and hold acid: charge them in moving air, away "
    "from sparks, with eyes protected."
)
NO_APPROVAL = (
    "These are measurements and sums, not an approval. Makers' limits and your local code decide what a "
    "cable, fuse or charger may carry; ask a licensed person where you are not sure."
)
WIRING = (
    "This is a loss calculation, not an approval. How much current a cable, fuse, plug or switch may carry "
    "is decided by its maker's data, its insulation and surroundings, and your local code; ask a licensed "
    "person where you are not sure. Fuse the cable close to the battery, with a fuse rated for its DC volts."
)
FUSES = (
    "Take the battery off before you change a fuse. A fuse protects the cable: fit none above what the cable "
    "and its connectors may carry, and none that is not rated for the DC voltage of the pack. The maker's "
    "time-current curve decides when it opens, and the maker's limits and your local code what may be fitted."
)
MOTOR = (
    "Loading is only one side of a motor's choice: starting torque, speed, cooling and dust decide as well, "
    "and the maker's data count. A cutter must not run faster than it was made for."
)


TOPICS = {
    "blades": BLADES,
    "measuring": MEASURING,
    "probes": PROBES,
    "lithium cells": LITHIUM,
    "lead-acid": LEAD_ACID,
    "charging": CHARGING,
    "plugging in": PLUGGING_IN,
    "full discharge": FULL_DISCHARGE,
    "building a pack": BUILDING,
    "wiring": WIRING,
    "fuses": FUSES,
    "controller": CONTROLLER,
    "motor": MOTOR,
    "approval": NO_APPROVAL,
}
"""Every caution by its topic."""


def for_pack(chemistry: str) -> tuple[str, ...]:
    """Cautions for charging or handling a pack of this chemistry.

    >>> for_pack("lead_acid") == (LEAD_ACID, CHARGING)
    True
    """
    return (LEAD_ACID, CHARGING) if chemistry == "lead_acid" else (LITHIUM, CHARGING)
