"""A day of lawns on one charge."""
