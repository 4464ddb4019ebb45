"""From a map to arrays, and from arrays to volts, amps, heat and stress."""
