"""The one file where nothing is lost."""
