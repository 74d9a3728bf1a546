"""What changed over the seasons, how long a pack lasts, and how well earlier answers would have held."""
