"""Read, look at, keep and change mows."""
