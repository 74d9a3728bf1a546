"""How a table is laid out: where its readings stand, which column is what, and why it is not understood."""
