"""A worked example of an open textbook, alternating current.

Source: T. R. Kuphaldt, *Lessons In Electric Circuits* (open book), Volume II, AC. Read in a public
copy; chapter and figure as named.
"""

from math import sqrt

import pytest

import railmap as rm


def test_regulation_of_a_transformer(turned, printed):
    # Chapter 9 (figure 12105): a secondary of 9.990 V without load has 9.348 V with it, 6.8678 %.
    # Any load will do for the resistance that this means; 1 kilohm is ours.
    load = 1e3
    winding = rm.Winding("T1", "A", "0V", volts_rms=9.990, ohms=load * (9.990 / 9.348 - 1))
    idle = turned(winding, rm.Resistor("R1", "A", "0V", ohms=1e9))
    busy = turned(winding, rm.Resistor("R1", "A", "0V", ohms=load))
    assert idle.volts_rms("A") == printed("9.990")
    assert busy.volts_rms("A") == printed("9.348")
    percent = 100 * (idle.volts_rms("A") - busy.volts_rms("A")) / busy.volts_rms("A")
    assert percent == printed("6.8678")
    assert busy.volts("A") == pytest.approx(0, abs=1e-9)
    assert busy.is_alternating("A")
    assert busy.part("R1").watts == pytest.approx(9.348**2 / load, rel=1e-6)
    assert busy.ripple("A").volts_pp == pytest.approx(2 * sqrt(2) * 9.348, rel=5e-4)
    assert busy.ripple("A").hertz == 60
