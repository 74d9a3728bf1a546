"""How a table is laid out: where its readings are, which column is what, and why it is not understood."""
