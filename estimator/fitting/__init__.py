"""From logs to packs and load profiles."""
