"""The pages, in modules by subject."""
