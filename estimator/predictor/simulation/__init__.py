"""Packs run forward in time, thousands of draws at once."""
