"""What changes over the years: measures of each mow, trends, groups compared, fading capacity."""
