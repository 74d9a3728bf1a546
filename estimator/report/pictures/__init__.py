"""Figures, one module a picture."""
