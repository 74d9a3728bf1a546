"""What every request passes through: access, guards, forms, waiting uploads."""
