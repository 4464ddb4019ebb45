"""The file format: read, check, write."""
