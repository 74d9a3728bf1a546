"""The commands, grouped in modules by what they do."""
