"""What the other columns of a table testify: units, which columns belong together, which way charge flows."""
