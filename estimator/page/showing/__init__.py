"""How figures, words and pictures read on the page."""
