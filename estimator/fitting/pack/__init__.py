"""From logs to a pack: circuit, open-circuit curve, prior, fit, draws."""
