"""How figures, words and pictures are shown on the page."""
