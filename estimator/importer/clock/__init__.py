"""From stamps to one time axis in seconds."""
