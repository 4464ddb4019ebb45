"""The tables in the drawer below."""
