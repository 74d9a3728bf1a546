"""The rest of a conversion, out of the measured load: cable, limits, motor, charging, money and care."""
