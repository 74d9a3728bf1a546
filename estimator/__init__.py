"""mowcharge: minutes, lawns and packs from the readings of a clamp meter and a voltmeter.

The public names load when first used, so that `import estimator` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from estimator.descriptions import Grass, Lawn, Machine, Pack
    from estimator.errors import InputError, LogbookError, MowchargeError
    from estimator.fitting.load.profile import LoadProfile, fit_profile
    from estimator.fitting.pack.fitted_pack import FittedPack
    from estimator.fitting.pack.pack_fit import fit_pack
    from estimator.importer.log import Log, MeterError, SpotNotes
    from estimator.importer.read import read_log
    from estimator.mow import Mow
    from estimator.predictor.charge_curve import charge_curve
    from estimator.predictor.lawns.lawns_per_charge import lawns_per_charge
    from estimator.predictor.minutes import minutes_left
    from estimator.predictor.sizing.recommend import recommend_capacity

_HOME = {
    "Grass": "descriptions",
    "Lawn": "descriptions",
    "Machine": "descriptions",
    "Pack": "descriptions",
    "InputError": "errors",
    "LogbookError": "errors",
    "MowchargeError": "errors",
    "FittedPack": "fitting.pack.fitted_pack",
    "fit_pack": "fitting.pack.pack_fit",
    "LoadProfile": "fitting.load.profile",
    "fit_profile": "fitting.load.profile",
    "Log": "importer.log",
    "MeterError": "importer.log",
    "SpotNotes": "importer.log",
    "read_log": "importer.read",
    "Mow": "mow",
    "recommend_capacity": "predictor.sizing.recommend",
    "charge_curve": "predictor.charge_curve",
    "lawns_per_charge": "predictor.lawns.lawns_per_charge",
    "minutes_left": "predictor.minutes",
}

__all__ = [  # noqa: RUF022 (in the order of the work)
    "Log", "MeterError", "SpotNotes", "read_log",
    "Grass", "Lawn", "Machine", "Mow", "Pack",
    "FittedPack", "fit_pack", "LoadProfile", "fit_profile",
    "charge_curve", "lawns_per_charge", "minutes_left", "recommend_capacity",
    "InputError", "LogbookError", "MowchargeError",
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
    return sorted([*globals(), *_HOME])
