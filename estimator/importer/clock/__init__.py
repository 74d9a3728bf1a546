"""From time stamps to one time axis in seconds."""
