"""Packs simulated forward in time, thousands of draws at once."""
