"""Rules of thumb for windings and reservoirs: common practice, no source."""

from math import sqrt

import pytest

import railmap as rm


def bridge_supply(load):
    return [
        rm.Winding("T1", "A", "B", volts_rms=18.5, ohms=0.2),
        rm.Bridge("B1", "A", "B", "P", "0V", forward_volts=0.75, ohms=0.05),
        rm.Capacitor("C1", "P", "0V", farads=4700e-6, esr_ohms=0.02),
        *load,
    ]


def test_winding_peaks_at_the_root_of_two(turned):
    # Common practice, no source: 18.5 V effective peak at about 26 V.
    s = turned(rm.Winding("T1", "A", "0V", volts_rms=18.5), rm.Resistor("R1", "A", "0V", ohms=1e3))
    assert s.ripple("A").high_volts == pytest.approx(26, rel=0.01)
    assert s.ripple("A").high_volts == pytest.approx(18.5 * sqrt(2), rel=1e-4)
    # A bridge and a reservoir without load stand near the peak less two drops.
    idle = turned(*bridge_supply([rm.Resistor("R1", "P", "0V", ohms=1e5)]))
    assert idle.volts("P") == pytest.approx(18.5 * sqrt(2) - 1.5, rel=2e-3)


def test_load_from_the_ripple(turned):
    # Common practice, no source: 4700 microfarads, 120 times a second, 0.4 V of ripple mean about
    # 0.23 A, for the charge that goes out between two charges is C dV. It is a little more, since
    # the reservoir is charged again before a half turn is over.
    rule = 4700e-6 * 120 * 0.4
    assert rule == pytest.approx(0.23, rel=0.02)
    s = turned(*bridge_supply([rm.Load("L1", "P", "0V", amps=rule)]))
    ripple = s.ripple("P")
    assert ripple.hertz == 120
    assert 0.8 * 0.4 < ripple.volts_pp < 0.4


def test_half_the_load_goes_through_each_diode(turned):
    # Common practice, no source: each diode of a full-wave rectifier carries half of the load's
    # mean current, and a half winding behind a centre tap likewise.
    s = turned(
        rm.Winding("T1", "A", "0V", volts_rms=18.5, ohms=0.2),
        rm.Winding("T2", "0V", "B", volts_rms=18.5, ohms=0.2),
        rm.Diode("D1", "A", "P"),
        rm.Diode("D2", "B", "P"),
        rm.Capacitor("C1", "P", "0V", farads=4700e-6),
        rm.Load("L1", "P", "0V", amps=0.2256),
    )
    for ref in ("D1", "D2", "T1", "T2"):
        assert abs(s.part(ref).amps) == pytest.approx(0.1128, rel=5e-4), ref
