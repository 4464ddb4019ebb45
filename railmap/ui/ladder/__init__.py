"""The ladder: height is volts, columns are boards, rails are rungs."""
