"""From packs and load profiles to minutes, lawns and capacity."""
