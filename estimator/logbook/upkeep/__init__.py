"""Backup, check, salvage, copy and export: what keeps a logbook intact for years."""
