"""Questions put to a map: edits and undo, placing, who feeds whom."""
