"""Readings noted by hand, for people whose meter cannot log."""
