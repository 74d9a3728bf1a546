"""Turn meter files and spot notes into logs."""
