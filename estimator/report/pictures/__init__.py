"""Pictures of answers and logs, as figures and as SVG for a page."""
