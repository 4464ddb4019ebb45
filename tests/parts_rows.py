"""What the tests of the parts table share: rows as they are typed, and maps made of them."""

from railmap.bench.parts_entry import entered
from railmap.bench.parts_table import Row, read_rows


def row(**typed):
    return Row({key.rstrip("_"): text for key, text in typed.items()})


R1 = {"ref": "R1", "drawn": "33R", "from_": "P0", "to": "P1"}


def enter(m, *rows):
    """Put rows into a map; all must be good."""
    readings = read_rows(m, list(rows))
    for reading in readings:
        assert not reading.reasons, reading.reasons
        assert not reading.missing, reading.missing
    m.change(entered(m, readings))
    return readings
