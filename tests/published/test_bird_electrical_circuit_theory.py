"""Worked examples of a textbook for technicians.

Source: J. O. Bird, *Electrical Circuit Theory and Technology*, chapter 13; examples and pages as
named at each check. Not read in the book itself but in an open volunteer copy of its printed
examples, so inputs and results are the copyist's; all were recomputed.
"""

import pytest

import railmap as rm


def test_bridge_fed_by_54_volts(solved, exactly):
    # Example 4, p. 170: 5, 3, 1, 4 and 4 A, 8 A from the supply, printed. Node volts recomputed.
    s = solved(
        rm.Source("E1", "A", "0V", volts=54),
        rm.Resistor("R1", "A", "B", ohms=2),
        rm.Resistor("R2", "A", "C", ohms=14),
        rm.Resistor("R3", "B", "C", ohms=32),
        rm.Resistor("R4", "B", "0V", ohms=11),
        rm.Resistor("R5", "C", "0V", ohms=3),
    )
    amps = [s.part(ref).amps for ref in ("R1", "R2", "R3", "R4", "R5")]
    assert amps == exactly([5, 3, 1, 4, 4])
    assert s.part("E1").amps == exactly(8)
    assert (s.volts("B"), s.volts("C")) == exactly((44, 12))
    assert s.power_in == exactly(54 * 8)


def two_cells(solved, first, second, load_ohms):
    return solved(
        rm.Source("E1", "N", "0V", volts=first[0], ohms=first[1]),
        rm.Source("E2", "N", "0V", volts=second[0], ohms=second[1]),
        rm.Resistor("R1", "N", "0V", ohms=load_ohms),
    )


def test_two_cells_side_by_side(solved, printed, exactly):
    # Examples 2 and 5, pp. 168 and 171: 4 V behind 2 ohms and 2 V behind 1 ohm, 4 ohms across.
    # One version prints 0.286 A for the second cell, the other -0.286 A: it takes that current.
    s = two_cells(solved, (4, 2), (2, 1), 4)
    assert s.part("E1").amps == printed("0.857")
    assert s.part("E2").amps == printed("-0.286")
    assert s.part("R1").amps == printed("0.571")
    assert (s.part("E1").amps, s.part("E2").amps, s.part("R1").amps) == exactly(
        (6 / 7, -2 / 7, 4 / 7)
    )
    assert s.part("E2").delivered_watts == exactly(-4 / 7)
    assert s.part("E2").watts == exactly(4 / 49)
    assert s.power_in == exactly(24 / 7)


@pytest.mark.parametrize(
    ("first", "second", "load_ohms", "texts", "exact"),
    [
        # Example 3, p. 169.
        ((4, 0.5), (-12, 2), 5, ("6.52", "-6.37", "0.15"), (176 / 27, -172 / 27, 4 / 27)),
        # Example 6, p. 173.
        ((8, 3), (-3, 2), 18, ("2.229", "-2.156", "0.073"), (107 / 48, -69 / 32, 7 / 96)),
    ],
)
def test_two_opposed_cells(solved, printed, exactly, first, second, load_ohms, texts, exact):
    # The second cell stands the other way round, so that both drive the outer loop.
    s = two_cells(solved, first, second, load_ohms)
    found = (s.part("E1").amps, s.part("E2").amps, s.part("R1").amps)
    assert found == tuple(printed(text) for text in texts)
    assert found == exactly(exact)
    assert s.part("E1").delivered_watts > 0
    assert s.part("E2").delivered_watts > 0


def test_volts_across_the_last_pair(solved, printed, exactly):
    # Example 6, p. 173: 1.313 V printed.
    s = two_cells(solved, (8, 3), (-3, 2), 18)
    assert s.volts("N") == printed("1.313")
    assert s.volts("N") == exactly(21 / 16)
