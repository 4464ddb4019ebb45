"""Worked examples of a textbook of circuit design.

Source: D. A. Neamen, *Electronic Circuit Analysis and Design*. Figures read in the open volunteer
copies of its examples (inputs and results as the copyist prints them), examples and pages as
named. The line is 120 V, 60 Hz.
"""

from math import pi, sqrt

import pytest

import railmap as rm

DROP = {"forward_volts": 0.7, "ohms": 1e-6, "rated_inverse_volts": 100.0}


def inverse_volts(s, ref):
    (check,) = (c for c in s.part(ref).checks if c.what == "inverse voltage")
    return check.value


def test_centre_tap_for_nine_volts(turned, printed):
    # Example 2.1: 9 V peak out takes 9.70 V peak, 6.86 V, a ratio of 17.50; 18.70 V in reverse.
    peak = 9.70
    assert peak / sqrt(2) == printed("6.86")
    assert 120 / (peak / sqrt(2)) == pytest.approx(17.50, abs=0.006)
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=peak / sqrt(2)),
        rm.Winding("T2", "0V", "B", volts_rms=peak / sqrt(2)),
        rm.Diode("D1", "A", "P", **DROP),
        rm.Diode("D2", "B", "P", **DROP),
        rm.Resistor("R1", "P", "0V", ohms=1e3),
    )
    assert s.ripple("P").high_volts == pytest.approx(9, rel=5e-4)
    assert inverse_volts(s, "D1") == pytest.approx(18.70, rel=5e-4)


def test_bridge_for_nine_volts(turned, printed):
    # Example 2.1: 10.40 V peak, 7.35 V, a ratio of 16.32; 9.70 V in reverse.
    peak = 10.40
    assert peak / sqrt(2) == printed("7.35")
    assert 120 / (peak / sqrt(2)) == printed("16.32")
    s = turned(
        rm.Winding("T1", "A", "B", volts_rms=peak / sqrt(2)),
        rm.Bridge("B1", "A", "B", "P", "0V", **DROP),
        rm.Resistor("R1", "P", "0V", ohms=1e3),
    )
    assert s.ripple("P").high_volts == pytest.approx(9, rel=5e-4)
    assert inverse_volts(s, "B1") == pytest.approx(9.70, rel=5e-4)


def test_reservoir_of_a_full_wave_rectifier(turned, reservoir, printed):
    # Example 2.2, page 59: 10 V, 10 kilohms, 0.2 V of ripple: 41.67 microfarads by the formula.
    farads = 10 / 1e4 / (2 * 60) / 0.2
    assert 1e6 * farads == printed("41.67")
    s = turned(
        rm.Winding("T1", "A", "B", volts_rms=10 / sqrt(2)),
        rm.Bridge("B1", "A", "B", "P", "0V", forward_volts=0.0, ohms=1e-6),
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Resistor("R1", "P", "0V", ohms=1e4),
    )
    exact = reservoir(2 * pi * 60 * farads * 1e4, 2)
    assert s.ripple("P").volts_pp == pytest.approx(10 * (1 - exact.low), rel=0.01)
    assert s.volts("P") == pytest.approx(10 * exact.mean, rel=5e-4)
    assert 0.85 * 0.2 < s.ripple("P").volts_pp < 0.2


def test_bridge_supply_with_its_diodes(turned, printed):
    # Example 2.3, page 61: 12 V, 120 mA, 5 % of ripple: 13.4 V peak, 9.48 V, 0.60 V, 1667
    # microfarads (the copy prints 0.00 F), 2.50 A of peak current and 12.7 V in reverse. Its
    # average of 66.04 mA a diode is a formula's: charge that goes out must come in, so that the
    # mean of each is half the load's, near 60 mA.
    peak, load = 13.4, 100.0
    assert peak / sqrt(2) == printed("9.48")
    farads = 0.12 / (2 * 60) / 0.6
    assert 1e6 * farads == printed("1667")
    s = turned(
        rm.Winding("T1", "A", "B", volts_rms=peak / sqrt(2)),
        rm.Diode("D1", "A", "P", **DROP),
        rm.Diode("D2", "B", "P", **DROP),
        rm.Diode("D3", "0V", "A", **DROP),
        rm.Diode("D4", "0V", "B", **DROP),
        rm.Capacitor("C1", "P", "0V", farads=farads, esr_ohms=1e-3),
        rm.Resistor("R1", "P", "0V", ohms=load),
    )
    assert s.ripple("P").high_volts == pytest.approx(12, rel=1e-3)
    assert 0.85 * 0.6 < s.ripple("P").volts_pp < 0.6
    for ref in ("D1", "D2", "D3", "D4"):
        diode = s.part(ref)
        assert diode.amps == pytest.approx(s.part("R1").amps / 2, rel=5e-4), ref
        assert diode.amps == pytest.approx(60e-3, rel=0.03), ref
        # Load current times (1 + pi sqrt(2 Vp / Vr)) with the ripple of the formula.
        assert diode.amps_peak == pytest.approx(2.50, rel=0.12), ref
        assert inverse_volts(s, ref) == pytest.approx(12.7, rel=2e-3), ref
