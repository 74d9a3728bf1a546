"""Backup, check, salvage, copy, export: what keeps a logbook whole for years."""
