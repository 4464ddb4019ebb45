"""The floor: boards, parts, runs, and the gestures on them."""
