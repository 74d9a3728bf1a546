"""mowcharge: minutes, lawns and packs from the readings of a clamp meter and a voltmeter.

The public names load when first used, so that `import estimator` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from estimator.conversion.care import care_advice
    from estimator.conversion.charging import break_gives, refill
    from estimator.conversion.charging_habits import Charger
    from estimator.conversion.current_limits import Limit, current_limits
    from estimator.conversion.load_trace import trace_from_log
    from estimator.conversion.motor import motor_load
    from estimator.conversion.running_cost import Petrol, running_cost
    from estimator.conversion.wiring import feed_cable
    from estimator.descriptions import Grass, Lawn, Machine, Pack, usual_cut_off_v
    from estimator.errors import AlreadyKept, InputError, LogbookError, MowchargeError, NotFound, OutOfRange
    from estimator.fitting.by_hand.spot_charge import spot_charge
    from estimator.fitting.charge_used import charge_used
    from estimator.fitting.load.features import mow_features
    from estimator.fitting.load.profile import LoadProfile, fit_profile
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.fitting.pack.pack_fit import fit_pack
    from estimator.fitting.seasons.comparisons import compare_groups
    from estimator.fitting.seasons.discharge_curves import discharge_curve
    from estimator.fitting.seasons.measures import CAPACITY, ENERGY, energy_observed
    from estimator.fitting.seasons.relative_capacity import relative_capacity
    from estimator.fitting.seasons.season_curves import season_curves
    from estimator.importer.log import Log, MeterError, SpotNotes
    from estimator.importer.meter import Meter
    from estimator.importer.read import examine, read_log
    from estimator.mow import Mow
    from estimator.predictor.charge_curve import charge_curve
    from estimator.predictor.lawns.day import ChargingPause
    from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
    from estimator.predictor.minutes import minutes_left
    from estimator.predictor.minutes_by_hand import minutes_left_by_hand
    from estimator.predictor.sizing.recommend import recommend_capacity
    from estimator.report.plot import plot

_ROOMS = {
    "importer.log": "Log MeterError SpotNotes",
    "importer.meter": "Meter",
    "importer.read": "examine read_log",
    "descriptions": "Grass Lawn Machine Pack usual_cut_off_v",
    "mow": "Mow",
    "fitting.charge_used": "charge_used",
    "fitting.by_hand.spot_charge": "spot_charge",
    "fitting.pack.fitted_pack": "FittedPack",
    "fitting.pack.pack_fit": "fit_pack",
    "fitting.load.features": "mow_features",
    "fitting.load.profile": "LoadProfile fit_profile",
    "predictor.charge_curve": "charge_curve",
    "predictor.minutes": "minutes_left",
    "predictor.minutes_by_hand": "minutes_left_by_hand",
    "predictor.lawns.lawns_per_charge": "lawns_per_charge",
    "predictor.lawns.day": "ChargingPause",
    "predictor.sizing.recommend": "recommend_capacity",
    "fitting.seasons.discharge_curves": "discharge_curve",
    "fitting.seasons.season_curves": "season_curves",
    "fitting.seasons.relative_capacity": "relative_capacity",
    "fitting.seasons.measures": "CAPACITY ENERGY energy_observed",
    "fitting.seasons.comparisons": "compare_groups",
    "conversion.load_trace": "trace_from_log",
    "conversion.wiring": "feed_cable",
    "conversion.current_limits": "Limit current_limits",
    "conversion.motor": "motor_load",
    "conversion.charging": "break_gives refill",
    "conversion.charging_habits": "Charger",
    "conversion.running_cost": "Petrol running_cost",
    "conversion.care": "care_advice",
    "report.plot": "plot",
    "errors": "AlreadyKept InputError LogbookError MowchargeError NotFound OutOfRange",
}
"""The public names by the module that defines them, in the order of the work."""

_HOME = {name: module for module, names in _ROOMS.items() for name in names.split()}

__all__ = [  # noqa: RUF022 (a row for each room, in the order of the work)
    "Log", "MeterError", "SpotNotes", "Meter", "read_log", "examine",
    "Grass", "Lawn", "Machine", "Pack", "usual_cut_off_v", "Mow",
    "charge_used", "spot_charge", "FittedPack", "fit_pack", "mow_features", "LoadProfile", "fit_profile",
    "charge_curve", "minutes_left", "minutes_left_by_hand",
    "lawns_per_charge", "ChargingPause", "recommend_capacity",
    "discharge_curve", "season_curves", "relative_capacity",
    "CAPACITY", "ENERGY", "energy_observed", "compare_groups",
    "trace_from_log", "feed_cable", "Limit", "current_limits", "motor_load",
    "Charger", "break_gives", "refill", "Petrol", "running_cost", "care_advice",
    "plot",
    "AlreadyKept", "InputError", "LogbookError", "MowchargeError", "NotFound", "OutOfRange",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    try:
        home = _HOME[name]
    except KeyError:
        raise AttributeError(f"module 'estimator' has no attribute {name!r}") from None
    value = getattr(import_module(f"estimator.{home}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(_HOME)
