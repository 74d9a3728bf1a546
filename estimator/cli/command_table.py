"""The table of commands: where each lives, and in one line what it does.

With it `--help` answers without loading a single command; a test compares it with the commands.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, NamedTuple


class Entry(NamedTuple):
    """One command: its heading in the help, the module and function behind it, and its line in the help."""

    heading: str
    where: str
    line: str


DESCRIBE = "Describe once"
MOWS = "Keep the mows"
ASK = "Ask"
CONVERSION = "Ask about the conversion"
LOOK_AFTER = "Look after it all"

COMMANDS: dict[str, Entry] = {
    "describe": Entry(DESCRIBE, "describe:app", "Describe a lawn, a pack, a machine or a meter."),
    "list": Entry(DESCRIBE, "describe:list_described", "Equipment and lawns: all that has been described."),
    "add": Entry(MOWS, "add:add", "Add a mow from meter files, or try it without keeping it."),
    "by-hand": Entry(MOWS, "by_hand:by_hand", "Add a mow from a few readings taken by hand."),
    "mows": Entry(MOWS, "mows:mows", "List the mows."),
    "show": Entry(MOWS, "mows:show", "Show one mow with its notes, figures and history."),
    "edit": Entry(MOWS, "mows:edit", "Change what was said about a mow, or correct its hand readings."),
    "split": Entry(
        MOWS, "mows:split", "Split one log into several mows, one per lawn or pack; the file stays whole."
    ),
    "remove": Entry(MOWS, "mows:remove", "Remove a mow; it can be restored."),
    "restore": Entry(MOWS, "mows:restore", "Restore a removed mow."),
    "minutes": Entry(ASK, "minutes:minutes", "Minutes left, from a log so far or from readings by hand."),
    "follow": Entry(ASK, "follow:follow", "Minutes left, again and again, while a logger writes its file."),
    "plan": Entry(
        ASK, "answering:plan", "Lawns per charge: how many of today's lawns finish, with the odds."
    ),
    "grass": Entry(ASK, "answering:grass", "How to judge the grass, and how much energy each kind takes."),
    "capacity": Entry(
        ASK, "answering:capacity", "The pack to buy: recommended capacity and its margin, part by part."
    ),
    "seasons": Entry(
        ASK, "looking_back:seasons", "Seasons compared: discharge curves, capacity, resistance, energy."
    ),
    "compare": Entry(ASK, "looking_back:compare", "Two groups of mows compared, before and after a change."),
    "pack-life": Entry(
        ASK, "looking_back:pack_life", "The mow at which the pack will no longer finish these lawns."
    ),
    "track-record": Entry(
        ASK, "looking_back:track_record", "How well earlier answers held, replayed from the logbook."
    ),
    "cable": Entry(CONVERSION, "conversion:cable", "What the feed cable costs in volts, energy and minutes."),
    "limits": Entry(
        CONVERSION, "conversion:limits", "Measured peaks compared with the fuse and the current limits."
    ),
    "motor": Entry(CONVERSION, "conversion:motor", "Measured load compared with the motor's rating."),
    "charging": Entry(CONVERSION, "conversion:charging", "Minutes and energy to refill the pack."),
    "cost": Entry(CONVERSION, "conversion:cost", "What mowing costs, compared with petrol."),
    "care": Entry(CONVERSION, "conversion:care", "Trends that suggest a look at blades, knives or bearings."),
    "logbook": Entry(LOOK_AFTER, "logbook:app", "Back up, restore, check, export and import the logbook."),
    "page": Entry(LOOK_AFTER, "page:page", "Open the page in a browser, for phones in the shed too."),
    "report": Entry(LOOK_AFTER, "in_full:report", "Write a printable report of all answers."),
    "cautions": Entry(
        LOOK_AFTER, "in_full:cautions", "What to watch out for around blades, cells and wires, in full."
    ),
    "demo": Entry(
        LOOK_AFTER, "demo:demo", "Fill a throw-away logbook with invented mows and answer everything."
    ),
}

ANSWERS: dict[str, str] = {
    "list": "answers.describe:all_described",
    "add": "answers.keeping.keep:add_mow",
    "by-hand": "answers.keeping.keep:add_mow",
    "mows": "answers.mow:mows_listed",
    "show": "answers.mow:story_of_mow",
    "minutes": "answers.minutes:minutes_of_files",
    "plan": "answers.plan:plan_of_day",
    "grass": "answers.grass:grass_told",
    "capacity": "answers.capacity:capacity_to_buy",
    "seasons": "answers.looking_back.seasons:seasons_compared",
    "compare": "answers.looking_back.compare:groups_compared",
    "pack-life": "answers.looking_back.pack_life:pack_life",
    "track-record": "answers.looking_back.track_record:record_so_far",
    "cable": "answers.conversion:cable_of_mows",
    "limits": "answers.conversion:limits_of_mows",
    "motor": "answers.conversion:motor_of_mows",
    "charging": "answers.charging_time:charging_after",
    "cost": "answers.charging_time:cost_of_mowing",
    "care": "answers.conversion:care_of_machine",
    "check": "logbook.upkeep.checking:check",
    "follow": "cli.looks:looks_at",
}
"""The function whose answer a command prints with `--json`; its return type gives the schema of that."""


def named(where: str) -> Any:
    """The object named as module:name, imported from `estimator`."""
    module, _, name = where.partition(":")
    return getattr(import_module(f"estimator.{module}"), name)
