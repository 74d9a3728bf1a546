"""Find and mend zero errors, spikes, gaps, reversed clamps and charging, and say what each changes."""
