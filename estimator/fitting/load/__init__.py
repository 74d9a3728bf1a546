"""From mows to a load profile: what a lawn in a grass condition asks of the pack."""
