"""The rows of a logbook: mows, uploads, descriptions, events, their history."""
