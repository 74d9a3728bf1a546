"""The JSON interface under /api and its description."""
