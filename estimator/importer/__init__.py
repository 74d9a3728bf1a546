"""From meter files and spot notes to logs."""
