"""Answers as text, pictures and printable pages."""
