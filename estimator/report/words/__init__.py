"""Answers as text."""
