"""The rest of a conversion, from the measured load: cable, limits, motor, charging, money and care."""
