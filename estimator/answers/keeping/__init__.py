"""Mows read, looked at, kept and changed."""
