"""A square mesh of ten by ten nodes joined by one ohm.

Source: the programming task "Resistor mesh" (on Rosetta Code, the site from memory), read in a
public copy of its solutions: between nodes (1, 1) and (7, 6), counted from zero,
455859137025721/283319837425200 ohms. The corner to corner value is recomputed.
"""

from collections.abc import Iterator

SIDE = 10


def mesh() -> Iterator[tuple[str, str, float]]:
    for x in range(SIDE):
        for y in range(SIDE):
            if x + 1 < SIDE:
                yield f"{x},{y}", f"{x + 1},{y}", 1.0
            if y + 1 < SIDE:
                yield f"{x},{y}", f"{x},{y + 1}", 1.0


def test_between_the_two_nodes_of_the_task(ohms_between, exactly):
    assert ohms_between(mesh(), "1,1", "7,6") == exactly(455859137025721 / 283319837425200)


def test_corner_to_corner(ohms_between, exactly):
    assert ohms_between(mesh(), "0,0", "9,9") == exactly(3.01166956489653)
