"""From bytes to titled columns: encoding, delimiter, layout, numbers, quantities and units."""
