"""Rows of tables, for the command line and the window."""
