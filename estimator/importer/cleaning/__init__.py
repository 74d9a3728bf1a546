"""Zero errors, spikes, gaps, turned clamps and charging: found, mended, costed."""
