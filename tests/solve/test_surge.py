"""The surge at switch-on against an integration in time of the circuit's own equations."""

from math import pi, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import railmap as rm

OHMS, FARADS, PEAK = 0.6, 0.01, 10.0


def by_integration(hertz: float, both_ways: bool) -> tuple[float, float]:
    """Return peak current and the integral of its square over half a turn, for the worst moment."""

    def found(phase: float) -> tuple[float, float]:
        def slope(t, y):
            volts = PEAK * np.sin(2 * pi * hertz * t + phase)
            amps = max(0.0, ((abs(volts) if both_ways else volts) - y[0]) / OHMS)
            return [amps / FARADS, amps * amps]

        steps = np.linspace(0, 0.5 / hertz, 400)
        turn = solve_ivp(
            slope, (0, 0.5 / hertz), [0, 0], rtol=1e-8, atol=1e-9, max_step=1e-4, t_eval=steps
        )
        amps = [slope(t, turn.y[:, k])[0] * FARADS for k, t in enumerate(steps)]
        return max(amps), float(turn.y[1, -1])

    each = [found(2 * pi * k / 16) for k in range(16)]
    return max(amps for amps, _ in each), max(i2t for _, i2t in each)


@pytest.mark.parametrize("hertz", [50.0, 60.0])
@pytest.mark.parametrize("both_ways", [False, True], ids=["half wave", "bridge"])
def test_surge(hertz, both_ways):
    m = rm.RailMap(mains_hertz=hertz)
    ideal = {"forward_volts": 0.0, "ohms": 0.0, "surge_i2t": 2.0}
    rectifier = (
        rm.Bridge("D1", "A", "B", "P", "0V", **ideal)
        if both_ways
        else rm.Diode("D1", "A", "P", **ideal)
    )
    for part in (
        rm.Winding("T1", "A", "B" if both_ways else "0V", volts_rms=PEAK / sqrt(2), ohms=0.5),
        rectifier, rm.Capacitor("C1", "P", "0V", farads=FARADS, esr_ohms=0.1),
    ):  # fmt: skip
        m.add(part)
    peak, i2t = by_integration(hertz, both_ways)
    found = rm.surges(m)["D1"]
    assert found.amps_peak == pytest.approx(peak, rel=1e-3)
    assert found.i2t == pytest.approx(i2t, rel=1e-5)
    assert found.stress == pytest.approx(i2t / 2, rel=1e-5)


def test_surge_falls_with_the_mains_and_with_resistance():
    m = rm.RailMap(mains_volts=230)
    m.add(rm.Winding("T1", "A", "0V", volts_rms=20, ohms=1))
    m.add(rm.Diode("D1", "A", "P"))
    m.add(rm.Capacitor("C1", "P", "0V", farads=0.0022))
    whole = rm.surges(m)["D1"]
    assert rm.surges(m, mains_volts=115)["D1"].i2t < whole.i2t / 2
    assert rm.surges(m, change=rm.what_if(T1={"ohms": 2.0}))["D1"].amps_peak < whole.amps_peak
    assert np.isnan(whole.stress)


def test_nothing_surges_without_a_winding_or_a_rectifier():
    m = rm.RailMap()
    m.add(rm.Source("V1", "A", "0V", volts=9, ohms=1))
    m.add(rm.Diode("D1", "A", "P"))
    m.add(rm.Capacitor("C1", "P", "0V", farads=1e-3))
    assert rm.surges(m) == {}
    m.add(rm.Winding("T1", "A", "0V", volts_rms=9, ohms=1))
    assert set(rm.surges(m)) == {"D1"}
    assert rm.surges(m, change=rm.what_if(T1=rm.OPEN)) == {}
    assert rm.surges(m, change=rm.what_if(D1=rm.OPEN)) == {}
