"""A mow while it runs: readings come in, and the answer follows them."""
