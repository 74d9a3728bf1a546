"""Readings with the labels and units of the open Battery Data Format (Battery Data Alliance, version 1.0.0).

Labels after https://w3id.org/battery-data-alliance/ontology/battery-data-format, read in its repository
battery-data-alliance/battery-data-format-ontology (docs/pages/specification.rst). Its discharging capacity is
the integral of max(-I, 0): there, current that leaves the pack is NEGATIVE; here it is positive.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from estimator.importer.log import Log

TIME, VOLTAGE, CURRENT = "Test Time / s", "Voltage / V", "Current / A"
UNIX_TIME, TEMPERATURE = "Unix Time / s", "Surface Temperature T1 / degC"


def battery_data_frame(log: Log) -> pd.DataFrame:
    """The readings of a log under Battery Data Format labels, discharge current negative.

    Columns: test time [s], voltage [V], current [A]; then Unix time [s] where the clock's offset from UTC is
    known and temperature [°C] where it was measured.

    >>> import pandas as pd
    >>> from estimator.importer.log import Log
    >>> readings = pd.DataFrame({"time_s": [0.0, 1.0], "current_a": [7.5, 8.0], "voltage_v": [48.1, 48.0]})
    >>> print(battery_data_frame(Log(readings)).to_csv(index=False), end="")
    Test Time / s,Voltage / V,Current / A
    0.0,48.1,-7.5
    1.0,48.0,-8.0
    """
    import pandas as pd

    readings = log.readings
    columns = {TIME: readings["time_s"], VOLTAGE: readings["voltage_v"], CURRENT: 0.0 - readings["current_a"]}
    if log.started is not None and log.started.tzinfo is not None:
        columns[UNIX_TIME] = readings["time_s"] + log.started.timestamp()
    if "temperature_c" in readings:
        columns[TEMPERATURE] = readings["temperature_c"]
    return pd.DataFrame(columns)
