"""A divider for three loads.

Source: a class hand-out on loaded voltage dividers in the manner of B. Grob, *Basic Electronics*,
chapter on voltage dividers (title and chapter from memory). Only an excerpt of a public copy, on
streamlineyourbusiness.ca, was readable: from 100 V, drops of 18, 22 and 60 V at 30, 66 and 120 mA,
so 600, 333 and 500 ohms. The loads of 36 and 54 mA are the differences of these currents; the third
load, 180 mA at the full 100 V, is from memory and moves none of the resistors.
"""

import pytest

import railmap as rm


def divider(middle_ohms):
    return (
        rm.Source("VT", "F", "0V", volts=100),
        rm.Resistor("R3", "F", "E", ohms=500),
        rm.Resistor("R2", "E", "D", ohms=middle_ohms),
        rm.Resistor("R1", "D", "0V", ohms=600),
        rm.Load("LD", "D", "0V", amps=0.036),
        rm.Load("LE", "E", "0V", amps=0.054),
        rm.Load("LF", "F", "0V", amps=0.180),
    )


def test_as_designed(solved, printed, exactly):
    s = solved(*divider(22 / 0.066))
    parts = [s.part(ref) for ref in ("R1", "R2", "R3")]
    assert [r.volts for r in parts] == exactly([18, 22, 60])
    assert [r.amps for r in parts] == exactly([0.030, 0.066, 0.120])
    assert [r.volts / r.amps for r in parts] == [printed(text) for text in ("600", "333", "500")]
    assert (s.volts("D"), s.volts("E")) == exactly((18, 40))
    assert s.part("VT").amps == exactly(0.300)
    assert s.power_in == exactly(30)


def test_with_the_printed_ohms(solved):
    # 333 in place of 333.33 ohms moves the rails by less than a tenth of a percent.
    s = solved(*divider(333))
    assert (s.volts("D"), s.volts("E")) == pytest.approx((18, 40), rel=1e-3)
    assert s.volts("D") > 18
