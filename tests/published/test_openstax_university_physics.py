"""Worked examples and problems of an open physics textbook.

Source: OpenStax, *University Physics Volume 2*, chapter 10, Direct-Current Circuits. Read in a
public copy; sections as named at each check.
"""

import math

import pytest

import railmap as rm


def amps(s, *refs):
    return [s.part(ref).amps for ref in refs]


def volts(s, *refs):
    return [s.part(ref).volts for ref in refs]


def watts(s, *refs):
    return [s.part(ref).watts for ref in refs]


@pytest.mark.parametrize(
    ("source_ohms", "load_ohms", "current", "terminal", "load_power"),
    [
        # The text prints 11.90 V; 12 V less 0.1 ohm times 1.188 A are 11.88 V.
        (0.1, 10.0, "1.188", "11.88", None),
        (0.1, 0.5, "20.0", "10.0", "200"),
        (0.5, 0.5, "12.0", "6.00", "72.0"),
    ],
)
def test_source_before_and_after_ageing(
    solved, printed, exactly, source_ohms, load_ohms, current, terminal, load_power
):
    # Section 10.1, example on terminal voltage: 12 V behind 0.1 ohm, later 0.5 ohm.
    s = solved(
        rm.Source("V1", "T", "0V", volts=12, ohms=source_ohms),
        rm.Resistor("RL", "T", "0V", ohms=load_ohms),
    )
    assert s.part("V1").amps == printed(current)
    assert s.volts("T") == printed(terminal)
    if load_power is not None:
        assert s.part("RL").watts == printed(load_power)
    assert s.part("V1").amps == exactly(12 / (source_ohms + load_ohms))
    assert s.part("V1").watts == exactly(source_ohms * (12 / (source_ohms + load_ohms)) ** 2)


def test_series_parallel_example(solved, printed, exactly):
    # Section 10.2, example on combining series and parallel: 12 V, 1 ohm, then 6 beside 13 ohms.
    s = solved(
        rm.Source("V1", "A", "0V", volts=12),
        rm.Resistor("R1", "A", "B", ohms=1),
        rm.Resistor("R2", "B", "0V", ohms=6),
        rm.Resistor("R3", "B", "0V", ohms=13),
    )
    # The text prints 5.10 ohms for 5.1053; 5.11 would be right to its digits.
    assert 12 / s.part("V1").amps == printed("5.1053")
    assert s.part("V1").amps == printed("2.35")
    assert s.volts("B") == printed("9.65")
    assert s.part("R2").amps == printed("1.61")
    assert s.part("R2").watts == printed("15.5")
    assert s.part("R3").amps == printed("0.742")
    assert s.volts("B") == exactly(12 * 78 / 97)


@pytest.mark.parametrize(
    "motor",
    [
        rm.Load("M1", "HOUSE", "0V", amps=15.0 - 108 / 192),
        rm.Load("M1", "HOUSE", "0V", ohms=108 / (15.0 - 108 / 192)),
        rm.Load("M1", "HOUSE", "0V", watts=108 * (15.0 - 108 / 192)),
    ],
    ids=["steady current", "resistance", "steady power"],
)
def test_lamp_dims_when_a_motor_starts(solved, printed, exactly, motor):
    # Section 10.2, problem: 120 V, wires of 0.800 ohm, a 75 W lamp of fixed resistance (192 ohms)
    # and a motor, 15.0 A in all. Whatever law the motor follows, the answer is the same.
    s = solved(
        rm.Source("V1", "MAINS", "0V", volts=120),
        rm.Link("W1", "MAINS", "HOUSE", ohms=0.8),
        rm.Resistor("RL", "HOUSE", "0V", ohms=192),
        motor,
    )
    assert s.part("V1").amps == exactly(15)
    assert s.volts("HOUSE") == exactly(108)
    assert s.part("RL").watts == printed("60.8")
    assert s.part("RL").watts == exactly(60.75)
    assert s.part("M1").watts == printed("1.56", 1e3)
    assert s.part("M1").watts == exactly(1559.25)
    assert s.part("W1").watts == exactly(180)


def test_three_sources_in_two_loops(solved, exactly):
    # Section 10.3, first example: 3 I1 - 8 I2 = -1.8, 8 I2 + I3 = 2.9, I3 = I1 + I2. The
    # alternative text of the figure says R1 = 3 ohms; the equations and the powers use 1 ohm, as
    # here. (A line "dividing both sides by 6.00" in the text belongs to other numbers.)
    s = solved(
        rm.Source("V1", "A", "0V", volts=0.5),
        rm.Resistor("R1", "A", "B", ohms=1),
        rm.Resistor("R4", "B", "N", ohms=2),
        rm.Source("V3", "C", "0V", volts=2.3),
        rm.Resistor("R2", "C", "D", ohms=5),
        rm.Resistor("R5", "D", "E", ohms=1),
        rm.Resistor("R6", "E", "N", ohms=2),
        rm.Resistor("R3", "N", "F", ohms=1),
        rm.Source("V2", "0V", "F", volts=0.6),
    )
    assert amps(s, "R1", "R2", "R3") == exactly([0.20, 0.30, 0.50])
    powers = watts(s, "R1", "R2", "R3", "R4", "R5", "R6")
    assert powers == exactly([0.04, 0.45, 0.25, 0.08, 0.09, 0.18])
    assert s.power_in == exactly(1.09)
    assert s.power_out == exactly(1.09)


def test_opposed_batteries(solved, exactly):
    # Section 10.3, second example: 24 V charges 12 V. The printed formula adds 10 + 30 + 10 ohms,
    # which would make 0.24 A; the figure has 20 ohms for the last and the printed 0.20 A is right.
    s = solved(
        rm.Source("V1", "A", "0V", volts=24),
        rm.Resistor("R1", "A", "B", ohms=10),
        rm.Resistor("R2", "B", "C", ohms=30),
        rm.Source("V2", "C", "D", volts=12),
        rm.Resistor("R3", "D", "0V", ohms=20),
    )
    assert amps(s, "R1", "R2", "R3") == exactly([0.20, 0.20, 0.20])
    assert watts(s, "R1", "R2", "R3") == exactly([0.40, 1.20, 0.80])
    assert s.part("V1").delivered_watts == exactly(4.80)
    assert s.part("V2").delivered_watts == exactly(-2.40)
    assert s.power_in == exactly(4.80)
    assert s.power_out == exactly(4.80)


@pytest.mark.parametrize(
    ("second_volts", "milliamps", "milliwatts", "exact_amps", "exact_watts"),
    [
        (1.4, ("0.6", "0.4", "0.2"), "0.92", (0.6e-3, 0.4e-3, 0.2e-3), 0.920e-3),
        (-1.4, ("0.04", "1.52", "-1.48"), "4.50", (0.04e-3, 1.52e-3, -1.48e-3), 4.504e-3),
    ],
    ids=["normal", "second source reversed"],
)
def test_two_source_pair(
    solved, printed, exactly, second_volts, milliamps, milliwatts, exact_amps, exact_watts
):
    # Section 10.3, problem: 1.6 V and 1.4 V through 1 kilohm each into 2 kilohms.
    s = solved(
        rm.Source("V1", "A", "0V", volts=1.6),
        rm.Resistor("R2", "A", "N", ohms=1e3),
        rm.Source("V2", "B", "0V", volts=second_volts),
        rm.Resistor("R3", "B", "N", ohms=1e3),
        rm.Resistor("R1", "N", "0V", ohms=2e3),
    )
    assert amps(s, "R1", "R2", "R3") == [printed(text, 1e-3) for text in milliamps]
    assert s.power_out == printed(milliwatts, 1e-3)
    assert amps(s, "R1", "R2", "R3") == exactly(list(exact_amps))
    assert s.power_in == exactly(exact_watts)


def test_five_currents(solved, exactly):
    # Section 10.3, problem: I1 to I5 are 1.5, 2, 0.5, 2.5 and 2 A, 34 W both ways. All branches
    # meet at the top, which is 0 V here.
    s = solved(
        rm.Source("V1", "0V", "P", volts=12),
        rm.Resistor("R1", "0V", "Q", ohms=4),
        rm.Resistor("R2", "Q", "P", ohms=3),
        rm.Resistor("R3", "S", "Q", ohms=2),
        rm.Source("V2", "0V", "S", volts=5),
        rm.Resistor("R4", "0V", "S", ohms=2),
    )
    assert amps(s, "R1", "R2", "R3", "R4") == exactly([1.5, 2.0, 0.5, 2.5])
    assert amps(s, "V1", "V2") == exactly([2.0, 2.0])
    assert [s.part(ref).delivered_watts for ref in ("V1", "V2")] == exactly([24, 10])
    assert s.power_in == exactly(34)
    assert s.power_out == exactly(34)


def test_supply_with_internal_resistance(solved, exactly):
    # Chapter 10, additional problem: 30 V behind 1 ohm; 9 beside 18, 10 beside 10, then 8 ohms.
    s = solved(
        rm.Source("V1", "A", "0V", volts=30, ohms=1),
        rm.Resistor("R1", "A", "B", ohms=9),
        rm.Resistor("R2", "A", "B", ohms=18),
        rm.Resistor("R3", "B", "C", ohms=10),
        rm.Resistor("R4", "B", "C", ohms=10),
        rm.Resistor("R5", "C", "0V", ohms=8),
    )
    refs = ("R1", "R2", "R3", "R4", "R5")
    assert 30 / s.part("V1").amps == exactly(20)
    assert s.part("V1").amps == exactly(1.5)
    assert 30 - s.part("V1").volts == exactly(1.5)
    assert s.part("V1").watts == exactly(2.25)
    assert amps(s, *refs) == exactly([1.0, 0.5, 0.75, 0.75, 1.5])
    assert volts(s, *refs) == exactly([9, 9, 7.5, 7.5, 12])
    assert watts(s, *refs) == exactly([9, 4.5, 5.625, 5.625, 18])
    assert s.power_in == exactly(45)


def test_supply_from_two_cells(solved, printed, exactly):
    # Chapter 10, additional problem: two cells of 12 V. The book prints 4.04 and 1.96 W for the two
    # parallel resistors, from rounded currents; 4.00 and 2.00 W are right.
    s = solved(
        rm.Source("V1", "M", "0V", volts=12),
        rm.Source("V2", "A", "M", volts=12),
        rm.Resistor("R1", "A", "B", ohms=14),
        rm.Resistor("R2", "B", "C", ohms=9),
        rm.Resistor("R3", "B", "C", ohms=18),
        rm.Resistor("R4", "C", "0V", ohms=4),
    )
    refs = ("R1", "R2", "R3", "R4")
    assert 24 / s.part("V2").amps == exactly(24)
    assert amps(s, *refs) == [printed(text) for text in ("1.00", "0.67", "0.33", "1.00")]
    assert amps(s, *refs) == exactly([1, 2 / 3, 1 / 3, 1])
    assert volts(s, *refs) == exactly([14, 6, 6, 4])
    assert watts(s, *refs) == exactly([14, 4, 2, 4])
    assert [s.part(ref).delivered_watts for ref in ("V1", "V2")] == exactly([12, 12])


@pytest.mark.parametrize("closed", [False, True])
def test_switch_across_a_balanced_bridge(solved, exactly, closed):
    # Chapter 10, additional problem: 12 ohms and 1.00 A, open or closed.
    s = solved(
        rm.Source("V1", "A", "0V", volts=12),
        rm.Resistor("R1", "A", "L", ohms=8),
        rm.Resistor("R2", "A", "R", ohms=8),
        rm.Switch("S1", "L", "R", closed=closed),
        rm.Resistor("R3", "L", "B", ohms=8),
        rm.Resistor("R4", "R", "B", ohms=8),
        rm.Resistor("R5", "B", "0V", ohms=4),
    )
    assert s.part("V1").amps == exactly(1)
    assert 12 / s.part("V1").amps == exactly(12)
    assert s.part("S1").amps == exactly(0)
    assert s.volts("L", "R") == exactly(0)
    assert amps(s, "R1", "R2", "R3", "R4") == exactly([0.5] * 4)


def test_endless_ladder(ohms_between, printed, exactly):
    # Chapter 10, additional problem: a resistor across, then one in each rail, and so on for ever:
    # (sqrt 3 - 1) R = 0.73205 R. Each section leaves a fourteenth of what is missing, so that
    # thirty of them are as good as all.
    edges = []
    for k in range(30):
        edges += [
            (f"T{k}", f"B{k}", 1.0), (f"T{k}", f"T{k + 1}", 1.0), (f"B{k}", f"B{k + 1}", 1.0)
        ]  # fmt: skip
    edges.append(("T30", "B30", 1.0))
    found = ohms_between(edges, "T0", "B0")
    assert found == printed("0.73205")
    assert found == exactly(math.sqrt(3) - 1)
