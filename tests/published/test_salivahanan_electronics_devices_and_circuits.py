"""Worked examples of a textbook of devices and circuits.

Source: S. Salivahanan and others, *Electronics Devices and Circuits*. Figures read in the open
volunteer copies of its examples (inputs and results as the copyist prints them), examples and pages
as named.
"""

from math import sqrt

import pytest

import railmap as rm

IDEAL = {"forward_volts": 0.0, "ohms": 1e-6}


def test_half_wave_without_reservoir(turned, printed):
    # Example 18.3: 230 V and 5:1 make 46 V, 65 V peak; 300 ohms: 20.7 V, 0.217 A peak, 14.1 W at
    # the peak, 69 mA, and 1.43 W of direct current in the load.
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=46),
        rm.Diode("D1", "A", "P", **IDEAL),
        rm.Resistor("R1", "P", "0V", ohms=300),
    )
    load = s.part("R1")
    assert s.ripple("P").high_volts == printed("65")
    assert s.volts("P") == printed("20.7")
    assert load.amps_peak == printed("0.217")
    assert load.amps_peak * load.volts_peak == printed("14.1")
    assert 1e3 * load.amps == printed("69")
    assert load.amps**2 * 300 == printed("1.43")
    # All of its heat is that of the effective current, half the peak.
    assert load.watts == pytest.approx((46 * sqrt(2) / 2) ** 2 / 300, rel=5e-4)


def test_full_wave_without_reservoir(turned, printed):
    # Example 18.4, page 550: 23 V a half winding, 900 ohms of load and 100 ohms of winding and
    # diode: 20.7 V and 20.7 mA through all 1000 ohms, 0.39 W, 120 Hz. Printed ripple 10.03 to
    # 10.05 V; the root of 23^2 - 20.706^2 is 10.01 V.
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=23, ohms=50),
        rm.Winding("T2", "0V", "B", volts_rms=23, ohms=50),
        rm.Diode("D1", "A", "P", forward_volts=0.0, ohms=50),
        rm.Diode("D2", "B", "P", forward_volts=0.0, ohms=50),
        rm.Resistor("R1", "P", "0V", ohms=900),
    )
    load = s.part("R1")
    assert 1e3 * load.amps == printed("20.7")
    assert load.amps * 1000 == printed("20.7")
    assert load.amps**2 * 900 == printed("0.39")
    ripple = 1000 * sqrt(load.amps_rms**2 - load.amps**2)
    assert ripple == pytest.approx(10.01, abs=0.01)
    assert ripple == pytest.approx(10.04, rel=4e-3)
    assert s.ripple("P").hertz == 120
    # 23 V effective through 1000 ohms, half of it through each side.
    assert load.amps_rms == pytest.approx(23e-3, rel=5e-4)
    assert s.part("T1").amps_rms == pytest.approx(23e-3 / sqrt(2), rel=5e-4)


def test_inverse_volts_of_a_full_wave_rectifier(turned, printed):
    # Example 18.4: 65 V, twice the peak of a half winding, where nothing is lost on the way.
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=23),
        rm.Winding("T2", "0V", "B", volts_rms=23),
        rm.Diode("D1", "A", "P", **IDEAL, rated_inverse_volts=100),
        rm.Diode("D2", "B", "P", **IDEAL, rated_inverse_volts=100),
        rm.Resistor("R1", "P", "0V", ohms=900),
    )
    for ref in ("D1", "D2"):
        (check,) = s.part(ref).checks
        assert check.value == printed("65")


# zeners


def stage(solved, volts, ohms, zener_volts, load_amps):
    s = solved(
        rm.Source("V1", "P", "0V", volts=volts),
        rm.Resistor("RS", "P", "Z", ohms=ohms),
        rm.Zener("D1", "Z", "0V", zener_volts=zener_volts),
        *([rm.Load("L1", "Z", "0V", amps=load_amps)] if load_amps else []),
    )
    return s.volts("Z"), s.part("D1").amps, s.part("D1").watts


def test_series_resistor_of_a_zener(solved):
    # Example 18.13: 5 V and 20 mA from 8 V at least, 5 mA left to the zener: 120 ohms.
    volts, amps, _ = stage(solved, 8, 120, 5, 0.02)
    assert volts == pytest.approx(5, rel=1e-6)
    assert amps == pytest.approx(5e-3, rel=1e-6)


def test_bounds_of_a_series_resistor(solved):
    # Example 18.15: 5 V, 400 mW, 10 mA, 8 to 12 V: from 77.78 to 300 ohms.
    _, _, watts = stage(solved, 12, 700 / 9, 5, 0.01)
    assert watts == pytest.approx(0.4, rel=1e-6)
    assert stage(solved, 12, 77, 5, 0.01)[2] > 0.4
    volts, amps, _ = stage(solved, 8, 299, 5, 0.01)
    assert volts == pytest.approx(5, rel=1e-6)
    assert 0 < amps < 1e-4
    assert stage(solved, 8, 301, 5, 0.01)[0] < 5 - 1e-3


def test_specification_that_no_resistor_meets(solved):
    # Example 18.12: 10 V, 30 to 50 mA of load, 20 to 40 mA of zener, 20 to 30 V. The copy prints
    # 285.7 ohms as the largest and 142.86 ohms as the smallest resistor, with a mean of 214.5
    # ohms, and the copyist notes that the answer is wrong: the zener keeps its 20 mA at low input
    # and full load up to 142.86 ohms only, and stays below 40 mA at high input and small load from
    # 285.7 ohms on. So no resistor does both; with 40 mA it burns the printed 0.4 W.
    def least(ohms):
        return stage(solved, 20, ohms, 10, 0.05)[1]

    def most(ohms):
        return stage(solved, 30, ohms, 10, 0.03)[1]

    assert least(1000 / 7) == pytest.approx(20e-3, rel=1e-6)
    assert most(2000 / 7) == pytest.approx(40e-3, rel=1e-6)
    assert stage(solved, 30, 2000 / 7, 10, 0.03)[2] == pytest.approx(0.4, rel=1e-6)
    for ohms in range(100, 331, 10):
        assert least(ohms) < 20e-3 or most(ohms) > 40e-3, ohms
    assert least(214.5) < 20e-3
    assert most(214.5) > 40e-3
