"""One recording from two files whose clocks differ."""
