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


@pytest.mark.parametrize("ratio", ENDLESS)
@pytest.mark.parametrize("circuit", ["bridge", "centre tap", "half wave"])
def test_endless_reservoir(turned, circuit, ratio):
    # With wCR = 2000 the mean is within a few millionths of an endless reservoir's.
    volts, rms, peak = closed_form(ratio, 1 if circuit == "half wave" else 2)
    s = turned(*supply(circuit, 1.0, 1 / ratio, 2000.0), hertz=HERTZ)
    idc = s.part("R1").amps
    assert s.volts("P") / PEAK == pytest.approx(volts, rel=MEAN)
    share = sqrt(2) if circuit == "centre tap" else 1.0
    for ref in ("T1", "B1" if circuit == "bridge" else "D1"):
        assert s.part(ref).amps_rms / idc == pytest.approx(rms / share, rel=1e-3), ref
        assert s.part(ref).amps_peak / idc == pytest.approx(peak, rel=5e-3), ref
    assert s.part("C1").amps_rms / idc == pytest.approx(sqrt(rms**2 - 1), rel=1e-3)


# Rs / RL: Edc / Ep and Irms / Idc at wCRL = 10, 40 and 100, and ripple / Edc at 40.
FINITE = {
    0.01: (("0.8861", "2.124"), ("0.9328", "2.291"), ("0.9368", "2.303"), "0.0612"),
    0.05: (("0.8167", "1.771"), ("0.8312", "1.792"), ("0.8320", "1.794"), "0.0511"),
    0.10: (("0.7446", "1.613"), ("0.7513", "1.622"), ("0.7517", "1.622"), "0.0455"),
}


@pytest.mark.parametrize(("ratio", "row"), FINITE.items())
@pytest.mark.parametrize(("column", "wcr"), [(0, 10.0), (1, 40.0), (2, 100.0)])
def test_reservoir_of_a_size(turned, ratio, row, column, wcr):
    # Stepped in time by a separate script, four digits: half a digit is allowed beside 0.05 %.
    s = turned(*supply("bridge", 1.0, 1 / ratio, wcr), hertz=HERTZ)
    volts, rms = row[column]
    assert s.volts("P") / PEAK == pytest.approx(float(volts), rel=MEAN / 2, abs=6e-5)
    idc = s.part("R1").amps
    assert s.part("T1").amps_rms / idc == pytest.approx(float(rms), rel=1e-3, abs=6e-4)
    if wcr == 40:
        swing = s.ripple("P").volts_pp / s.volts("P")
        assert swing == pytest.approx(float(row[3]), rel=RIPPLE)
    assert s.ripple("P").hertz == 2 * HERTZ


# wCR: lowest and mean volts per peak volt, no resistance but the load's.
STIFF = {
    ("bridge", 10): ("0.78480", "0.89815"), ("bridge", 20): ("0.87738", "0.94127"),
    ("bridge", 50): ("0.94554", "0.97358"), ("bridge", 100): ("0.97145", "0.98604"),
    ("bridge", 200): ("0.98527", "0.99276"), ("half wave", 10): ("0.58905", "0.79059"),
    ("half wave", 50): ("0.89046", "0.94569"), ("half wave", 100): ("0.94236", "0.97145"),
}  # fmt: skip


@pytest.mark.parametrize(("case", "texts"), STIFF.items())
def test_rectifier_without_resistance(turned, reservoir, printed, case, texts):
    circuit, wcr = case
    exact = reservoir(wcr, 1 if circuit == "half wave" else 2)
    assert (exact.low, exact.mean) == tuple(printed(text) for text in texts)
    s = turned(*supply(circuit, 0.0, 1e4, wcr), hertz=HERTZ)
    ripple = s.ripple("P")
    assert s.volts("P") / PEAK == pytest.approx(exact.mean, rel=MEAN)
    assert ripple.high_volts / PEAK == pytest.approx(1, rel=MEAN)
    assert ripple.low_volts / PEAK == pytest.approx(exact.low, rel=MEAN)
    assert ripple.volts_pp / PEAK == pytest.approx(1 - exact.low, rel=RIPPLE)


@pytest.mark.parametrize("case", STIFF)
def test_current_of_a_rectifier_without_resistance(turned, reservoir, case):
    # It rises at once to its peak, where the mains meets the reservoir.
    circuit, wcr = case
    exact = reservoir(wcr, 1 if circuit == "half wave" else 2)
    s = turned(*supply(circuit, 0.0, 1e4, wcr), hertz=HERTZ)
    part = s.part("B1" if circuit == "bridge" else "D1")
    assert part.amps == pytest.approx(exact.mean * PEAK / 1e4, rel=MEAN)
    assert part.amps_peak == pytest.approx(exact.amps * PEAK / 1e4, rel=0.01)
    assert part.amps_rms == pytest.approx(exact.amps_rms * PEAK / 1e4, rel=0.005)


@pytest.mark.parametrize(("wcr", "percent"), [(10, 46), (20, 28), (50, 15), (100, 10)])
def test_linear_formula_says_too_much(turned, wcr, percent):
    # Ripple = I / (2 f C), that is pi / wCR of the peak, exceeds the true ripple by so much.
    s = turned(*supply("bridge", 0.0, 1e4, wcr), hertz=HERTZ)
    excess = pi / wcr * PEAK / s.ripple("P").volts_pp - 1
    assert 100 * excess == pytest.approx(percent, abs=0.6)
