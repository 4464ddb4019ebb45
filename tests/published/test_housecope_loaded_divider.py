"""A split divider with a slip in its text.

Source: electro-en.housecope.com, article on additional load resistors as a voltage divider (a
translated textbook figure). Only an excerpt was readable: 50 mA arrive at Z and split into 25 mA
for load C and 25 mA through R1, which drops 12.5 V; at Y they split into 10 mA through R2, which
drops 10 V, and load B; rail C is at 22.5 V; a fourth output lies below ground. The text prints 16
mA for load B: 25 - 10 = 15 mA is right, and agrees with its "R2 is 1.5 times the load". R3 and
load A stand in the picture only; own values are used for them.
"""

import railmap as rm

# Own values: 150 ohms together, 7.5 V below ground at 50 mA.
R3_OHMS, LOAD_A_OHMS = 300.0, 300.0


def divider(load_b):
    return (
        rm.Source("V1", "Z", "MINUS", volts=30),
        rm.Resistor("R1", "Z", "Y", ohms=500),
        rm.Resistor("R2", "Y", "0V", ohms=1000),
        rm.Resistor("R3", "0V", "MINUS", ohms=R3_OHMS),
        rm.Load("LA", "0V", "MINUS", ohms=LOAD_A_OHMS),
        load_b,
        rm.Load("LC", "Z", "0V", ohms=900),
    )


def test_currents_split_as_said(solved, exactly):
    s = solved(*divider(rm.Load("LB", "Y", "0V", ohms=1000 / 1.5)))
    assert s.part("V1").amps == exactly(0.050)
    assert (s.part("R1").amps, s.part("LC").amps) == exactly((0.025, 0.025))
    assert (s.part("R2").amps, s.part("LB").amps) == exactly((0.010, 0.015))
    assert (s.part("R1").volts, s.part("R2").volts) == exactly((12.5, 10))
    assert (s.volts("Z"), s.volts("Y"), s.volts("MINUS")) == exactly((22.5, 10, -7.5))
    assert s.power_in == exactly(1.5)


def test_steady_currents_give_the_same_rails(solved, exactly):
    s = solved(*divider(rm.Load("LB", "Y", "0V", amps=0.015)))
    assert (s.volts("Z"), s.volts("Y"), s.volts("MINUS")) == exactly((22.5, 10, -7.5))


def test_the_printed_current_does_not_fit(solved, exactly):
    # With 22.5 V held at Z and the printed 16 mA: 2 (22.5 - y) = y + 16, so 9.667 V, not 10.
    s = solved(
        rm.Source("V1", "Z", "0V", volts=22.5),
        rm.Resistor("R1", "Z", "Y", ohms=500),
        rm.Resistor("R2", "Y", "0V", ohms=1000),
        rm.Load("LB", "Y", "0V", amps=0.016),
    )
    assert s.volts("Y") == exactly(29 / 3)
