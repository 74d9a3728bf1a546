"""Evidence from other columns of a table: units, which columns belong together, which way charge flows."""
