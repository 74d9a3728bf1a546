"""What every request passes: access, guards, forms, waiting uploads."""
