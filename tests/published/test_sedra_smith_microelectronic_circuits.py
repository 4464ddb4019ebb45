"""Worked examples of a textbook of microelectronics.

Source: A. S. Sedra and K. C. Smith, *Microelectronic Circuits*. Figures read in the open volunteer
copies of its examples (inputs and results as the copyist prints them), examples and pages as named.
"""

from math import pi, sqrt

import pytest

import railmap as rm


def test_peak_rectifier(turned, reservoir, printed):
    # Example 3.9, page 181: 100 V peak, 60 Hz, 10 kilohms, 2 V of ripple: 83.3 microfarads, 0.2
    # radians of conduction, 638 mA at most. Worked out exactly: 99.05 V, 1.918 V, 622 mA.
    farads = 100 / 1e4 / 60 / 2
    assert 1e6 * farads == printed("83.3")
    assert sqrt(2 * 2 / 100) == printed("0.2")
    assert 10 * (1 + 2 * pi * sqrt(2 * 100 / 2)) == printed("638")
    exact = reservoir(2 * pi * 60 * farads * 1e4, 1)
    assert 100 * exact.mean == printed("99.05")
    assert 100 * (1 - exact.low) == printed("1.918")
    assert 10 * exact.amps == printed("622")
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=100 / sqrt(2)),
        rm.Diode("D1", "A", "P", forward_volts=0.0, ohms=1e-6),
        rm.Capacitor("C1", "P", "0V", farads=farads, esr_ohms=1e-3),
        rm.Resistor("R1", "P", "0V", ohms=1e4),
    )
    assert s.volts("P") == pytest.approx(99.05, rel=5e-4)
    assert s.ripple("P").volts_pp == pytest.approx(1.918, rel=0.01)
    assert s.ripple("P").volts_pp == pytest.approx(2, rel=0.05)
    diode = s.part("D1")
    assert 1e3 * diode.amps_peak == pytest.approx(622, rel=0.01)
    assert 1e3 * diode.amps_peak == pytest.approx(638, rel=0.04)
    # Charge comes in as it goes out.
    assert diode.amps == pytest.approx(s.part("R1").amps, rel=1e-4)


def allowed(rated_watts, rated_c, zero_c, ambient_c):
    """Return the watts that a regulator is allowed in some air."""
    m = rm.RailMap(ambient_c=ambient_c)
    m.add(rm.Source("V1", "P", "0V", volts=10))
    m.add(
        rm.Regulator(
            "U1", "P", "Q", "0V", volts=5, rated_watts=rated_watts, rated_c=rated_c, zero_c=zero_c
        )
    )
    m.add(rm.Load("L1", "Q", "0V", amps=0.1))
    part = rm.solve(m).part("U1")
    (check,) = part.checks
    assert part.stress == pytest.approx(part.watts / check.allowed, rel=1e-12)
    return check.allowed


def test_transistor_in_warm_air(printed):
    # Example 14.4: 2 W at 25 degrees and 150 degrees at most make 62.5 degrees a watt; 1.6 W at 50
    # degrees.
    assert printed("62.5") == (150 - 25) / 2
    assert allowed(2, 25, 150, 50) == pytest.approx(1.6, rel=1e-12)
    assert printed("87.5") == 25 + 62.5 * 1


def test_transistor_on_a_heat_sink(printed):
    # Example 14.5: 3.12 + 0.5 + 4 degrees a watt, 150 degrees at most, in air of 50 degrees:
    # 13.1 W; 32 W on a sink that stays at 50 degrees.
    chain = 3.12 + 0.5 + 4
    assert allowed((150 - 25) / chain, 25, 150, 50) == printed("13.1")
    assert allowed((150 - 25) / 3.12, 25, 150, 50) == printed("32")


def test_power_transistor_of_another_book(printed):
    # Neamen, Electronic Circuit Analysis and Design, example 8.1: 1.75 + 50 degrees a watt from 30
    # to 150 degrees, 2.32 W; 15.5 W with 1.75 + 1 + 5. Example 8.3: 20 W at 25 and nothing at 175
    # degrees is 7.5 degrees a watt; with 1 + 5 more, 11.1 W from 25 degrees.
    for chain, text in ((1.75 + 50, "2.32"), (1.75 + 1 + 5, "15.5")):
        assert allowed((150 - 25) / chain, 25, 150, 30) == printed(text)
    assert printed("7.5") == (175 - 25) / 20
    assert allowed((175 - 25) / (7.5 + 6), 25, 175, 25) == printed("11.1")


def test_heat_sinks_of_a_third_book(printed):
    # Mehta, Principles of Electronics, example 12.16: from 30 to 90 degrees 300 degrees a watt are
    # 200 mW, 60 degrees a watt 1 W.
    for chain, watts in ((300, 0.2), (60, 1.0)):
        assert allowed((90 - 25) / chain, 25, 90, 30) == pytest.approx(watts, rel=1e-12)
