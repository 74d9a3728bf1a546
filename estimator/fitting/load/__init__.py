"""From mows to a load profile: the power and energy that a lawn in a grass condition takes."""
