"""Any answer as plain dictionaries and lists, ready for JSON: same names, same units."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from pathlib import PurePath
from typing import Any


def as_plain(value: Any) -> Any:
    """Turn an answer into what JSON can hold; figures that are not finite become None.

    >>> from estimator.answers.why import Part
    >>> as_plain(Part("start charge", float("nan")))
    {'name': 'start charge', 'value': None, 'unit': '', 'note': ''}
    """
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, Enum):
        return as_plain(value.value)
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): as_plain(each) for key, each in value.items()}
    if hasattr(value, "columns") and hasattr(value, "to_dict"):
        return {str(key): as_plain(each) for key, each in value.to_dict("list").items()}
    if hasattr(value, "tolist"):
        return as_plain(value.tolist())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [as_plain(each) for each in value]
    raise TypeError(f"{type(value).__name__} has no plain form")
