"""One recording made from two files whose clocks differ."""
