"""One recording made from several files: two meters whose clocks differ, or parts one after another."""
