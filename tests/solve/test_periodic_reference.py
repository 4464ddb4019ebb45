"""The periodic steady state against an integration in time of equations written by hand.

Each circuit here has its own equations, written down apart from the package and integrated by
``scipy.integrate.solve_ivp`` until one turn of the mains is like the turn before. Every
rectifier works into a capacitor or a choke, so that its current follows from the states alone.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi, sin, sqrt

import numpy as np
import pytest
from scipy.integrate import simpson, solve_ivp

import railmap as rm

STEPS = 4000
"""Points a turn at which the reference is read."""
MEAN, RIPPLE, RMS, PEAK, HEAT = 5e-4, 1e-2, 5e-3, 5e-3, 5e-3
"""How near the engine has to come, as parts."""

Rates = Callable[[float, Sequence[float]], Sequence[float]]


@dataclass(frozen=True)
class Reference:
    """One turn of the mains in the steady state: times, and states at them."""

    t: np.ndarray
    x: np.ndarray

    def mean(self, values: np.ndarray) -> float:
        return float(simpson(values, x=self.t) / (self.t[-1] - self.t[0]))

    def rms(self, values: np.ndarray) -> float:
        return sqrt(self.mean(values**2))


def steady_state(
    rates: Rates, start: Sequence[float], hertz: float, turns: int = 400, close: float = 1e-7
) -> Reference:
    """Integrate turn by turn until the state at the end of a turn is that at its start."""
    turn, x = 1 / hertz, np.array(start, dtype=float)
    for _ in range(turns):
        run = integrate(rates, x, turn, 1e-8)
        end = run.y[:, -1]
        still = np.max(np.abs(end - x)) <= close * np.max(np.abs(end))
        x = end
        if still:
            break
    else:
        raise AssertionError("the reference did not come to rest")
    t = np.linspace(0, turn, STEPS + 1)
    return Reference(t, integrate(rates, x, turn, 1e-9, t).y)


def integrate(rates, x, turn, rtol, t_eval=None):
    # LSODA is stiff where the circuit is; the step is held so that no pulse is jumped over.
    run = solve_ivp(
        rates, (0, turn), x, "LSODA", t_eval, rtol=rtol, atol=rtol * 1e-2, max_step=turn / 200
    )
    assert run.success, run.message
    return run


def solved(*parts: rm.Part, hertz: float = 50) -> rm.Solution:
    m = rm.RailMap(mains_hertz=hertz)
    for part in parts:
        m.add(part)
    s = rm.solve(m)
    assert s.status == "solved", s.message
    assert s.power_in == pytest.approx(s.power_out, rel=1e-6)
    return s


def same_node(s: rm.Solution, node: str, reference: Reference, volts: np.ndarray) -> None:
    """Compare mean, ripple and effective volts of a node."""
    swing = volts.max() - volts.min()
    assert s.volts(node) == pytest.approx(reference.mean(volts), rel=MEAN), node
    assert s.ripple(node).volts_pp == pytest.approx(swing, rel=RIPPLE), node
    assert s.ripple(node).low_volts == pytest.approx(volts.min(), abs=RIPPLE * swing), node
    assert s.ripple(node).high_volts == pytest.approx(volts.max(), abs=RIPPLE * swing), node
    assert s.volts_rms(node) == pytest.approx(reference.rms(volts), rel=MEAN), node


def same_current(s: rm.Solution, ref: str, reference: Reference, amps: np.ndarray) -> None:
    """Compare mean, effective and peak current of a part."""
    part = s.part(ref)
    rms = reference.rms(amps)
    assert part.amps == pytest.approx(reference.mean(amps), rel=MEAN, abs=MEAN * rms), ref
    assert part.amps_rms == pytest.approx(rms, rel=RMS), ref
    assert part.amps_peak == pytest.approx(np.abs(amps).max(), rel=PEAK), ref


def conducts(drive, ohms):
    """Return the current that a voltage drives through a rectifier with some ohms."""
    return np.maximum(drive, 0.0) / ohms


@pytest.mark.parametrize(
    ("farads", "load_ohms", "winding_ohms", "hertz"),
    [(220e-6, 220.0, 2.0, 50), (1000e-6, 100.0, 0.5, 60), (47e-6, 150.0, 8.0, 50)],
)
def test_half_wave(farads, load_ohms, winding_ohms, hertz):
    peak, forward, slope = 18 * sqrt(2), 0.7, 0.1
    w, ohms = 2 * pi * hertz, winding_ohms + slope

    def into(t, v):
        return conducts(peak * np.sin(w * t) - forward - v, ohms)

    def rates(t, x):
        return [(max(peak * sin(w * t) - forward - x[0], 0) / ohms - x[0] / load_ohms) / farads]

    reference = steady_state(rates, [peak - 3], hertz)
    v = reference.x[0]
    amps = into(reference.t, v)
    s = solved(
        rm.Winding("T1", "A", "0V", volts_rms=18, ohms=winding_ohms),
        rm.Diode("D1", "A", "P", forward_volts=forward, ohms=slope),
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Resistor("R1", "P", "0V", ohms=load_ohms),
        hertz=hertz,
    )
    same_node(s, "P", reference, v)
    same_current(s, "D1", reference, amps)
    same_current(s, "C1", reference, amps - v / load_ohms)
    same_current(s, "R1", reference, v / load_ohms)
    assert s.ripple("P").hertz == hertz
    heat = reference.rms(amps) ** 2
    assert s.part("T1").watts == pytest.approx(heat * winding_ohms, rel=2 * RMS)
    diode = forward * reference.mean(amps) + slope * heat
    assert s.part("D1").watts == pytest.approx(diode, rel=HEAT)
    supplied = reference.mean(peak * np.sin(w * reference.t) * amps)
    assert s.part("T1").delivered_watts == pytest.approx(supplied, rel=MEAN)


@pytest.mark.parametrize(("hertz", "esr"), [(50, 0.0), (60, 0.3)])
def test_centre_tap(hertz, esr):
    peak, forward, ohms = 20 * sqrt(2), 0.75, 1.5 + 0.05
    w, farads, load = 2 * pi * hertz, 470e-6, 60.0

    def volts_of(t, vc):
        """Solve the node by hand: load, capacitor behind its resistance, one diode or none."""
        if not esr:
            return vc
        off = (vc / esr) / (1 / esr + 1 / load)
        lit = peak * np.abs(np.sin(w * t)) - forward
        on = (vc / esr + lit / ohms) / (1 / esr + 1 / load + 1 / ohms)
        return np.where(lit > off, on, off)

    def rates(t, x):
        v = float(volts_of(t, x[0]))
        i = max(peak * abs(sin(w * t)) - forward - v, 0) / ohms
        return [(i - v / load) / farads]

    reference = steady_state(rates, [peak - 4], hertz)
    t, vc = reference.t, reference.x[0]
    v = volts_of(t, vc)
    upper = conducts(peak * np.sin(w * t) - forward - v, ohms)
    lower = conducts(-peak * np.sin(w * t) - forward - v, ohms)
    s = solved(
        rm.Winding("T1A", "A", "0V", volts_rms=20, ohms=1.5),
        rm.Winding("T1B", "0V", "B", volts_rms=20, ohms=1.5),
        rm.Diode("D1", "A", "P", forward_volts=forward, ohms=0.05),
        rm.Diode("D2", "B", "P", forward_volts=forward, ohms=0.05),
        rm.Capacitor("C1", "P", "0V", farads=farads, esr_ohms=esr),
        rm.Resistor("R1", "P", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "P", reference, v)
    same_current(s, "D1", reference, upper)
    same_current(s, "D2", reference, lower)
    same_current(s, "C1", reference, upper + lower - v / load)
    assert s.ripple("P").hertz == 2 * hertz


@pytest.mark.parametrize(("hertz", "farads", "load"), [(50, 2200e-6, 33.0), (60, 330e-6, 120.0)])
def test_bridge_on_one_winding(hertz, farads, load):
    peak, forward, slope, winding = 24 * sqrt(2), 0.8, 0.04, 1.2
    w, ohms = 2 * pi * hertz, winding + 2 * slope

    def rates(t, x):
        i = max(peak * abs(sin(w * t)) - 2 * forward - x[0], 0) / ohms
        return [(i - x[0] / load) / farads]

    reference = steady_state(rates, [peak - 4], hertz)
    t, v = reference.t, reference.x[0]
    amps = conducts(peak * np.abs(np.sin(w * t)) - 2 * forward - v, ohms)
    s = solved(
        rm.Winding("T1", "A", "B", volts_rms=24, ohms=winding),
        rm.Bridge("B1", "A", "B", "P", "0V", forward_volts=forward, ohms=slope),
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Resistor("R1", "P", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "P", reference, v)
    same_current(s, "B1", reference, amps)
    same_current(s, "T1", reference, -amps * np.sign(np.sin(w * t)))
    same_current(s, "C1", reference, amps - v / load)
    assert s.ripple("P").hertz == 2 * hertz
    heat = 2 * (forward * reference.mean(amps) + slope * reference.rms(amps) ** 2)
    assert s.part("B1").watts == pytest.approx(heat, rel=HEAT)


def test_bridge_on_a_centre_tap_with_both_rails_and_a_chain_of_droppers():
    hertz, peak, forward, ohms = 60, 26 * sqrt(2), 0.75, 1.0 + 0.05
    w = 2 * pi * hertz
    farads = {"P0": 1000e-6, "P1": 100e-6, "P2": 47e-6, "N0": 470e-6, "N1": 100e-6}
    r1, r2, r3 = 47.0, 150.0, 68.0
    load1, load2, steady = 330.0, 470.0, 0.08

    def rates(t, x):
        e = peak * abs(sin(w * t)) - forward
        p0, p1, p2, n0, n1 = x
        to_p = max(e - p0, 0) / ohms
        to_n = max(e + n0, 0) / ohms
        return [
            (to_p - (p0 - p1) / r1) / farads["P0"],
            ((p0 - p1) / r1 - p1 / load1 - (p1 - p2) / r2) / farads["P1"],
            ((p1 - p2) / r2 - p2 / load2) / farads["P2"],
            ((n1 - n0) / r3 - to_n) / farads["N0"],
            (steady - (n1 - n0) / r3) / farads["N1"],
        ]

    reference = steady_state(rates, [34, 25, 19, -34, -28], hertz)
    t = reference.t
    volts = dict(zip(farads, reference.x, strict=True))
    e = peak * np.sin(w * t)
    to_p = conducts(np.abs(e) - forward - volts["P0"], ohms)
    to_n = conducts(np.abs(e) - forward + volts["N0"], ohms)
    s = solved(
        rm.Winding("T1A", "A", "0V", volts_rms=26, ohms=1.0),
        rm.Winding("T1B", "0V", "B", volts_rms=26, ohms=1.0),
        rm.Bridge("B1", "A", "B", "P0", "N0", forward_volts=forward, ohms=0.05),
        rm.Resistor("R1", "P0", "P1", ohms=r1),
        rm.Load("L1", "P1", "0V", ohms=load1),
        rm.Resistor("R2", "P1", "P2", ohms=r2),
        rm.Load("L2", "P2", "0V", ohms=load2),
        rm.Resistor("R3", "N0", "N1", ohms=r3),
        rm.Load("L3", "0V", "N1", amps=steady),
        *(
            rm.Capacitor(f"C{n}", *((n, "0V") if n[0] == "P" else ("0V", n)), farads=c)
            for n, c in farads.items()
        ),
        hertz=hertz,
    )
    for node, v in volts.items():
        same_node(s, node, reference, v)
        assert s.ripple(node).hertz == 2 * hertz
    half = np.where(e > 0, -to_p, to_n)
    other = np.where(e > 0, -to_n, to_p)
    same_current(s, "T1A", reference, half)
    same_current(s, "T1B", reference, other)
    same_current(s, "CP0", reference, to_p - (volts["P0"] - volts["P1"]) / r1)
    same_current(s, "CN0", reference, to_n - (volts["N1"] - volts["N0"]) / r3)
    assert s.part("B1").pin_amps["plus"] == pytest.approx(-reference.mean(to_p), rel=MEAN)
    assert s.part("B1").pin_amps["minus"] == pytest.approx(reference.mean(to_n), rel=MEAN)
    for ref, a, b, r in (("R1", "P0", "P1", r1), ("R2", "P1", "P2", r2), ("R3", "N1", "N0", r3)):
        heat = reference.mean((volts[a] - volts[b]) ** 2) / r
        assert s.part(ref).watts == pytest.approx(heat, rel=MEAN), ref


@pytest.mark.parametrize("hertz", [50, 60])
def test_doubler_of_two_reservoirs(hertz):
    # Both capacitors in series across the load, each charged on its own half of the mains.
    peak, forward, ohms = 40 * sqrt(2), 0.7, 4.0 + 0.05
    w, upper, lower, load = 2 * pi * hertz, 220e-6, 100e-6, 2200.0

    def rates(t, x):
        e, i = peak * sin(w * t), (x[0] + x[1]) / load
        return [
            (max(e - forward - x[0], 0) / ohms - i) / upper,
            (max(-e - forward - x[1], 0) / ohms - i) / lower,
        ]

    reference = steady_state(rates, [peak - 3, peak - 3], hertz)
    t, (one, two) = reference.t, reference.x
    e, i = peak * np.sin(w * t), (one + two) / load
    s = solved(
        rm.Winding("T1", "A", "M", volts_rms=40, ohms=4.0),
        rm.Diode("D1", "A", "P", forward_volts=forward),
        rm.Diode("D2", "0V", "A", forward_volts=forward),
        rm.Capacitor("C1", "P", "M", farads=upper),
        rm.Capacitor("C2", "M", "0V", farads=lower),
        rm.Resistor("R1", "P", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "P", reference, one + two)
    same_node(s, "M", reference, two)
    same_current(s, "D1", reference, conducts(e - forward - one, ohms))
    same_current(s, "D2", reference, conducts(-e - forward - two, ohms))
    same_current(s, "R1", reference, i)
    assert s.ripple("M").hertz == hertz


def test_doubler_of_a_coupling_capacitor():
    # The first capacitor is in series with the winding, a diode clamps it, another one charges
    # the reservoir.
    hertz, peak, forward, winding, slope = 50, 30 * sqrt(2), 0.7, 3.0, 0.05
    w, series, reservoir, load = 2 * pi * hertz, 100e-6, 220e-6, 1500.0
    ohms = winding + slope

    def currents(t, x, y):
        e = peak * np.sin(w * t)
        return np.maximum(e - x - forward - y, 0) / ohms, np.maximum(x - e - forward, 0) / ohms

    def rates(t, x):
        on, back = currents(t, x[0], x[1])
        return [float(on - back) / series, float(on - x[1] / load) / reservoir]

    reference = steady_state(rates, [-peak + 2, 2 * peak - 8], hertz)
    t, (x, y) = reference.t, reference.x
    on, back = currents(t, x, y)
    s = solved(
        rm.Winding("T1", "A", "0V", volts_rms=30, ohms=winding),
        rm.Capacitor("C1", "A", "X", farads=series, polarised=False),
        rm.Diode("D1", "0V", "X", forward_volts=forward, ohms=slope),
        rm.Diode("D2", "X", "P", forward_volts=forward, ohms=slope),
        rm.Capacitor("C2", "P", "0V", farads=reservoir),
        rm.Resistor("R1", "P", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "P", reference, y)
    same_current(s, "D1", reference, back)
    same_current(s, "D2", reference, on)
    same_current(s, "C1", reference, on - back)
    assert s.part("C1").volts == pytest.approx(reference.mean(x), rel=MEAN)
    assert s.part("C1").volts_peak == pytest.approx(np.abs(x).max(), rel=MEAN)


@pytest.mark.parametrize("hertz", [50, 60])
def test_capacitor_choke_capacitor(hertz):
    peak, forward, ohms = 25 * sqrt(2), 0.75, 1.0 + 0.05
    w, first, second = 2 * pi * hertz, 470e-6, 220e-6
    henries, winding, load = 0.5, 12.0, 150.0

    def rates(t, x):
        i = max(peak * abs(sin(w * t)) - forward - x[0], 0) / ohms
        return [
            (i - x[2]) / first,
            (x[2] - x[1] / load) / second,
            (x[0] - x[1] - winding * x[2]) / henries,
        ]

    reference = steady_state(rates, [32, 29, 0.2], hertz)
    t, (one, two, through) = reference.t, reference.x
    s = solved(
        rm.Winding("T1A", "A", "0V", volts_rms=25, ohms=1.0),
        rm.Winding("T1B", "0V", "B", volts_rms=25, ohms=1.0),
        rm.Diode("D1", "A", "P", forward_volts=forward),
        rm.Diode("D2", "B", "P", forward_volts=forward),
        rm.Capacitor("C1", "P", "0V", farads=first),
        rm.Choke("L1", "P", "Q", henries=henries, ohms=winding),
        rm.Capacitor("C2", "Q", "0V", farads=second),
        rm.Resistor("R1", "Q", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "P", reference, one)
    same_node(s, "Q", reference, two)
    same_current(s, "L1", reference, through)
    same_current(s, "D1", reference, conducts(peak * np.sin(w * t) - forward - one, ohms))
    heat = winding * reference.rms(through) ** 2
    assert s.part("L1").watts == pytest.approx(heat, rel=MEAN)


def test_choke_input():
    # The choke is large enough to carry current all the time, so that it is handed from one
    # diode to the other where the half windings cross, while both conduct.
    hertz, peak, forward, ohms = 50, 30 * sqrt(2), 0.75, 2.0 + 0.05
    w, henries, winding, farads, load = 2 * pi * hertz, 0.4, 8.0, 100e-6, 100.0

    def rectified(t, i):
        e = peak * np.abs(np.sin(w * t))
        single = e - forward - i * ohms
        both = -forward - i * ohms / 2
        return np.where(-e - forward > single, both, single)

    def rates(t, x):
        v = float(rectified(t, x[1]))
        return [(x[1] - x[0] / load) / farads, (v - x[0] - winding * x[1]) / henries]

    reference = steady_state(rates, [22, 0.22], hertz)
    t, (v, i) = reference.t, reference.x
    assert i.min() > 0.02
    before = rectified(t, i)
    s = solved(
        rm.Winding("T1A", "A", "0V", volts_rms=30, ohms=2.0),
        rm.Winding("T1B", "0V", "B", volts_rms=30, ohms=2.0),
        rm.Diode("D1", "A", "P", forward_volts=forward),
        rm.Diode("D2", "B", "P", forward_volts=forward),
        rm.Choke("L1", "P", "Q", henries=henries, ohms=winding),
        rm.Capacitor("C1", "Q", "0V", farads=farads),
        rm.Resistor("R1", "Q", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "Q", reference, v)
    same_current(s, "L1", reference, i)
    assert s.volts("P") == pytest.approx(reference.mean(before), rel=MEAN)
    assert s.volts_rms("P") == pytest.approx(reference.rms(before), rel=MEAN)
    one = conducts(peak * np.sin(w * t) - forward - before, ohms)
    same_current(s, "D1", reference, one)


@pytest.mark.parametrize("capacitor", [None, 10e-6], ids=["bare", "with a capacitor"])
def test_zener_behind_a_dropper(capacitor):
    # The dropper starves the zener in the valleys of the ripple.
    hertz, peak, forward, ohms = 50, 15 * sqrt(2), 0.7, 1.5 + 0.05
    w, farads, r1, load = 2 * pi * hertz, 220e-6, 150.0, 330.0
    knee, slope, steady = 12.0 - 7 * 0.01, 7.0, 0.06

    def zener_volts(v):
        off = v * load / (load + r1)
        on = (v / r1 + knee / slope) / (1 / r1 + 1 / load + 1 / slope)
        return np.where(off > knee, on, off)

    def rates(t, x):
        z = float(zener_volts(x[0])) if capacitor is None else x[1]
        i = max(peak * abs(sin(w * t)) - forward - x[0], 0) / ohms
        first = (i - steady - (x[0] - z) / r1) / farads
        if capacitor is None:
            return [first]
        taken = z / load + max(z - knee, 0) / slope
        return [first, ((x[0] - z) / r1 - taken) / capacitor]

    reference = steady_state(rates, [18.0] if capacitor is None else [18.0, 12.0], hertz)
    v = reference.x[0]
    z = zener_volts(v) if capacitor is None else reference.x[1]
    assert z.min() < knee < z.max()
    more = [] if capacitor is None else [rm.Capacitor("C2", "Z", "0V", farads=capacitor)]
    s = solved(
        rm.Winding("T1A", "A", "0V", volts_rms=15, ohms=1.5),
        rm.Winding("T1B", "0V", "B", volts_rms=15, ohms=1.5),
        rm.Diode("D1", "A", "P", forward_volts=forward),
        rm.Diode("D2", "B", "P", forward_volts=forward),
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Load("L1", "P", "0V", amps=steady),
        rm.Resistor("R1", "P", "Z", ohms=r1),
        rm.Zener("D3", "Z", "0V", zener_volts=12, ohms=slope, test_amps=0.01),
        rm.Resistor("R2", "Z", "0V", ohms=load),
        *more,
    )
    same_node(s, "P", reference, v)
    same_node(s, "Z", reference, z)
    same_current(s, "R1", reference, (v - z) / r1)
    same_current(s, "D3", reference, conducts(z - knee, slope))
    heat = reference.mean(z * conducts(z - knee, slope))
    assert s.part("D3").watts == pytest.approx(heat, rel=HEAT)


@pytest.mark.parametrize("hertz", [50, 60])
@pytest.mark.parametrize("capacitor", [None, 4.7e-6], ids=["bare", "with a capacitor"])
@pytest.mark.parametrize("sign", [1, -1], ids=["positive", "negative"])
def test_regulator_that_drops_out_in_the_valleys(hertz, capacitor, sign):
    peak, forward, ohms = 12 * sqrt(2), 0.75, 0.8 + 2 * 0.05
    w, farads, load = 2 * pi * hertz, 680e-6, 40.0
    volts, dropout, own, quiescent = 12.0, 1.5, 0.05, 0.004

    def bare_output(v):
        return np.minimum(volts, v - dropout) / (1 + own / load)

    def given(v, out):
        return np.maximum(np.minimum(volts, v - dropout) - out, 0.0) / own

    def rates(t, x):
        v = x[0]
        out = float(bare_output(v)) if capacitor is None else x[1]
        i = max(peak * abs(sin(w * t)) - 2 * forward - v, 0) / ohms
        through = max(min(volts, v - dropout) - out, 0.0) / own
        first = (i - through - quiescent) / farads
        return [first] if capacitor is None else [first, (through - out / load) / capacitor]

    reference = steady_state(rates, [14.0] if capacitor is None else [14.0, 12.0], hertz)
    v = reference.x[0]
    out = bare_output(v) if capacitor is None else reference.x[1]
    assert v.min() - dropout < 0.97 * volts
    assert v.max() - dropout > 1.02 * volts
    plus, minus = ("P", "0V") if sign > 0 else ("0V", "P")
    high, low = ("Q", "0V") if sign > 0 else ("0V", "Q")
    more = [] if capacitor is None else [rm.Capacitor("C2", high, low, farads=capacitor)]
    s = solved(
        rm.Winding("T1", "A", "B", volts_rms=12, ohms=0.8),
        rm.Bridge("B1", "A", "B", plus, minus, forward_volts=forward),
        rm.Capacitor("C1", plus, minus, farads=farads),
        rm.Regulator(
            "U1", "P", "Q", "0V", volts=sign * volts, dropout_volts=dropout, ohms=own,
            quiescent_amps=quiescent,
        ),
        rm.Resistor("R1", high, low, ohms=load),
        *more,
        hertz=hertz,
    )  # fmt: skip
    same_node(s, "P", reference, sign * v)
    same_node(s, "Q", reference, sign * out)
    same_current(s, "U1", reference, sign * given(v, out))
    assert [f.refs for f in s.findings if f.kind == "drop-out"] == [("U1",)]
    heat = reference.mean((v - out) * given(v, out) + quiescent * v)
    assert s.part("U1").watts == pytest.approx(heat, rel=HEAT)


def test_choke_that_runs_dry():
    # A small choke behind a bridge: its current begins and ends in every half turn, and in
    # between nothing flows. Each piece is integrated up to the moment that ends it.
    hertz, peak, forward, ohms = 50, 20 * sqrt(2), 0.75, 1.0 + 2 * 0.05
    w, henries, winding, farads, load = 2 * pi * hertz, 0.01, 2.0, 470e-6, 120.0

    def drive(t, x):
        return peak * abs(sin(w * t)) - 2 * forward - x[0]

    def flowing(t, x):
        return [
            (x[1] - x[0] / load) / farads,
            (drive(t, x) - (ohms + winding) * x[1]) / henries,
        ]

    def resting(t, x):
        return [-x[0] / load / farads, 0.0]

    def dry(t, x):
        return x[1]

    dry.terminal, dry.direction = True, -1
    drive.terminal, drive.direction = True, 1

    def half_turn(v):
        """Walk from one zero of the mains to the next; return times and states."""
        t, x, half = 0.0, [v, 0.0], 0.5 / hertz
        times, states = [np.zeros(0)], [np.zeros((2, 0))]
        for law, event in ((resting, drive), (flowing, dry), (resting, drive)):
            run = solve_ivp(
                law, (t, half), x, "LSODA", events=event, rtol=1e-9, atol=1e-11,
                max_step=half / 2000,
            )  # fmt: skip
            times.append(run.t)
            states.append(run.y)
            t, x = run.t[-1], [run.y[0, -1], 0.0]
        assert t == half
        return np.concatenate(times), np.concatenate(states, axis=1)

    v = 22.0
    for _ in range(200):
        times, states = half_turn(v)
        before, v = v, states[0, -1]
        if abs(v - before) < 1e-7:
            break
    reference = Reference(times, states)
    s = solved(
        rm.Winding("T1", "A", "B", volts_rms=20, ohms=1.0),
        rm.Bridge("B1", "A", "B", "P", "0V", forward_volts=forward),
        rm.Choke("L1", "P", "Q", henries=henries, ohms=winding),
        rm.Capacitor("C1", "Q", "0V", farads=farads),
        rm.Resistor("R1", "Q", "0V", ohms=load),
        hertz=hertz,
    )
    same_node(s, "Q", reference, states[0])
    same_current(s, "L1", reference, states[1])
