"""Figures that are worked out once for each mow and pack, and kept in the logbook."""
