"""The card of what is selected."""
