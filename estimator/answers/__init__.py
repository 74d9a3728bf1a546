"""Answers to questions, from a logbook; the same for the command line and the page."""
