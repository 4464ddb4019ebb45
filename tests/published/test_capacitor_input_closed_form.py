"""Rectifiers into a reservoir against closed forms: derived, no printed source.

The figures in the tables were worked out apart from the package, as was the algebra; the shape of
the curves is that of the well-known family for capacitor-input rectifiers, of which no printed
reading was at hand. Volts are per peak volt of the winding, currents per ampere of load.
"""

from math import cos, pi, sqrt, tan

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

import railmap as rm

PEAK, HERTZ = 10.0, 50.0
# Nearly no slope: what the checks leave out.
IDEAL = {"forward_volts": 0.0, "ohms": 1e-6}
MEAN, RIPPLE = 5e-4, 1e-2


def supply(circuit: str, source_ohms: float, load_ohms: float, wcr: float) -> list[rm.Part]:
    """Return a rectifier with all its series resistance in the winding."""
    rms = PEAK / sqrt(2)
    farads = wcr / (2 * pi * HERTZ * load_ohms)
    parts: list[rm.Part] = [
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Resistor("R1", "P", "0V", ohms=load_ohms),
    ]
    if circuit == "bridge":
        parts += [
            rm.Winding("T1", "A", "B", volts_rms=rms, ohms=source_ohms),
            rm.Bridge("B1", "A", "B", "P", "0V", **IDEAL),
        ]
        return parts
    parts += [
        rm.Winding("T1", "A", "0V", volts_rms=rms, ohms=source_ohms),
        rm.Diode("D1", "A", "P", **IDEAL),
    ]
    if circuit == "centre tap":
        parts += [
            rm.Winding("T2", "0V", "B", volts_rms=rms, ohms=source_ohms),
            rm.Diode("D2", "B", "P", **IDEAL),
        ]
    return parts


# Rs / RL: Edc / Ep, Irms / Idc, Ipk / Idc of a full-wave rectifier, then the first two of a
# half-wave one, for a reservoir without end.
ENDLESS = {
    0.01: ("0.9376", "2.306", "6.65", "0.9035", "2.920"),
    0.02: ("0.9035", "2.065", "5.34", "0.8529", "2.624"),
    0.05: ("0.8322", "1.794", "4.03", "0.7518", "2.294"),
    0.10: ("0.7518", "1.622", "3.30", "0.6455", "2.091"),
}


def half_angle(ratio: float, pulses: int) -> float:
    """Return half the angle of conduction: ``tan f - f = pi / pulses * Rs / RL``."""
    return brentq(lambda f: tan(f) - f - pi / pulses * ratio, 1e-6, pi / 2 - 1e-6, xtol=1e-14)


def closed_form(ratio: float, pulses: int) -> tuple[float, float, float]:
    """Return Edc / Ep, Irms / Idc and Ipk / Idc from the clipped cosine."""
    angle = half_angle(ratio, pulses)
    level = cos(angle)

    def pulse(a: float) -> float:
        return (cos(a) - level) / ratio / level

    square = quad(lambda a: pulse(a) ** 2, -angle, angle)[0] * pulses / (2 * pi)
    return level, sqrt(square), pulse(0)


@pytest.mark.parametrize(("ratio", "texts"), ENDLESS.items())
def test_table_of_an_endless_reservoir_is_the_clipped_cosine(printed, ratio, texts):
    assert closed_form(ratio, 2) == tuple(printed(text) for text in texts[:3])
    assert closed_form(ratio, 1)[:2] == tuple(printed(text) for text in texts[3:])


@pytest.mark.parametrize(("wcr", "percent"), [(10, 46), (20, 28), (50, 15), (100, 10)])
def test_linear_formula_says_too_much(turned, wcr, percent):
    # Ripple = I / (2 f C), that is pi / wCR of the peak, exceeds the true ripple by so much.
    s = turned(*supply("bridge", 0.0, 1e4, wcr), hertz=HERTZ)
    excess = pi / wcr * PEAK / s.ripple("P").volts_pp - 1
    assert 100 * excess == pytest.approx(percent, abs=0.6)
