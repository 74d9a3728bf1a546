"""From bytes to titled columns: encoding, delimiter, numbers, quantities and units."""
