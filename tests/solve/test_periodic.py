"""Laws that every periodic steady state keeps: energy, Kirchhoff, scaling, frequency, faults."""

import random
from collections.abc import Callable, Sequence
from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import railmap as rm
from railmap.resources import data_dir
from railmap.solve.turning import waves
from railmap.solve.variants import LOSS_OHMS_A_HENRY
from railmap.solve.what_if import Fault

EXAMPLES = ("small_receiver", "portable_tape_recorder", "mixing_console")
DIODE = {"forward_volts": 0.75, "ohms": 0.05}


def map_of(*parts: rm.Part, hertz: float = 50, mains: float = 230) -> rm.RailMap:
    m = rm.RailMap(mains_hertz=hertz, mains_volts=mains)
    for part in parts:
        m.add(part)
    return m


def solved(*parts: rm.Part, hertz: float = 50, change: rm.WhatIf | None = None) -> rm.Solution:
    s = rm.solve(map_of(*parts, hertz=hertz), change=change)
    assert s.status == "solved", s.message
    return s


def half_wave(rms: float = 20, ohms: float = 1.0) -> list[rm.Part]:
    return [
        rm.Winding("T1", "A", "0V", volts_rms=rms, ohms=ohms),
        rm.Diode("D1", "A", "P", **DIODE),
    ]


def centre_tap(rms: float = 20, ohms: float = 1.0) -> list[rm.Part]:
    return [
        *half_wave(rms, ohms),
        rm.Winding("T2", "0V", "B", volts_rms=rms, ohms=ohms),
        rm.Diode("D2", "B", "P", **DIODE),
    ]


def bridge(rms: float = 20, ohms: float = 1.0) -> list[rm.Part]:
    return [
        rm.Winding("T1", "A", "B", volts_rms=rms, ohms=ohms),
        rm.Bridge("B1", "A", "B", "P", "0V", **DIODE),
    ]


def tail(farads: float = 1000e-6, ohms: float = 100.0) -> list[rm.Part]:
    return [
        rm.Capacitor("C1", "P", "0V", farads=farads),
        rm.Resistor("R1", "P", "0V", ohms=ohms),
    ]


# random supplies


class Supply:
    """A random supply as they are built: winding, rectifier, reservoir, a tree of droppers.

    Loads are dealt out so that each is fed with volts to spare; ``letters`` names the parts:
    R dropper, L choke, U regulator, K converter between the nodes, and S, O, P, M, Z what hangs on
    them: steady, resistive, power, lamp, zener.
    """

    def __init__(self, seed: int, letters: str) -> None:
        self.rng = random.Random(f"{seed} {letters}")
        self.map = rm.RailMap(mains_hertz=self.rng.choice((50, 60)))
        self.count = 0
        links = [c for c in letters if c in "RLUK"]
        loads = [c for c in letters if c in "SOPMZ"]
        for rail in self.front():
            nodes = [rail]
            for _ in range(self.rng.randint(1, 5)):
                near = self.rng.choice(nodes)
                far = self.link(self.rng.choice(links), *near)
                self.load(self.rng.choice(loads), *far)
                nodes.append(far)

    def name(self, letter: str) -> str:
        self.count += 1
        return f"{letter}{self.count}"

    def add(self, kind: type[rm.Part], letter: str, *pins: str, **values: float | None) -> None:
        self.map.add(kind(self.name(letter), *pins, **values))

    def front(self) -> list[tuple[str, float, float]]:
        """Add windings and a rectifier; return rails with signed volts and amps."""
        rng = self.rng
        rms, ohms = rng.uniform(10, 40), rng.uniform(0.2, 3)
        values = {"forward_volts": rng.choice((0.5, 0.75, 1.1)), "ohms": rng.uniform(0.02, 0.3)}
        kind = rng.choice(("half", "negative", "centre", "bridge", "both"))
        amps = 0.15 * rms / (20 * ohms)
        if kind == "bridge":
            self.add(rm.Winding, "T", "A", "B", volts_rms=rms, ohms=ohms)
            self.add(rm.Bridge, "B", "A", "B", "P", "0V", **values)
            rails = [("P", rms * sqrt(2) - 2, amps)]
        else:
            self.add(rm.Winding, "T", "A", "0V", volts_rms=rms, ohms=ohms)
            rails = [("P", rms * sqrt(2) - 1, amps)]
        if kind in ("half", "centre"):
            self.add(rm.Diode, "D", "A", "P", **values)
        if kind == "negative":
            self.add(rm.Diode, "D", "P", "A", **values)
            rails = [("P", 1 - rms * sqrt(2), amps)]
        if kind in ("centre", "both"):
            self.add(rm.Winding, "T", "0V", "B", volts_rms=rms, ohms=ohms)
        if kind == "centre":
            self.add(rm.Diode, "D", "B", "P", **values)
        if kind == "both":
            self.add(rm.Bridge, "B", "A", "B", "P", "N", **values)
            rails.append(("N", 1 - rms * sqrt(2), amps))
        for node, volts, current in rails:
            swing = rng.uniform(0.005, 0.08) * abs(volts)
            self.capacitor(node, volts, current / 100 / swing)
        return rails

    def capacitor(self, node: str, volts: float, farads: float) -> None:
        rng = self.rng
        self.add(
            rm.Capacitor, "C", *_ends(node, volts), farads=farads, rated_volts=100.0,
            esr_ohms=rng.choice((0.0, 0.02, 0.3)), leak_ohms=rng.choice((None, 1e5, 1e4)),
        )  # fmt: skip

    def link(self, letter: str, node: str, volts: float, amps: float) -> tuple[str, float, float]:
        """Add what leads to a new node; return that with its volts and amps."""
        rng, far = self.rng, f"N{self.count}"
        amps *= rng.uniform(0.1, 0.4)
        drop = rng.uniform(0.1, 0.3)
        if letter in "UK" and abs(volts) < 8:
            letter = "R"
        if letter == "R":
            self.add(rm.Resistor, "R", node, far, ohms=abs(volts) * drop / amps)
            volts *= 1 - drop
        elif letter == "L":
            ohms = 0.02 * abs(volts) / amps
            self.add(rm.Choke, "L", node, far, henries=rng.uniform(0.05, 3), ohms=ohms)
        elif letter == "U":
            volts *= rng.uniform(0.4, 0.7)
            self.add(
                rm.Regulator, "U", node, far, "0V", volts=volts, dropout_volts=1.0,
                quiescent_amps=rng.choice((0.0, 0.003)),
                limit_amps=rng.choice((None, 3 * amps)),
            )  # fmt: skip
        else:
            self.add(
                rm.Converter, "U", node, far, "0V", volts=5.0, efficiency=rng.uniform(0.6, 1),
                min_input_volts=0.3 * abs(volts),
            )  # fmt: skip
            volts, amps = 5.0, amps * abs(volts) / 10
        if letter == "L" or rng.random() < 0.6:
            self.capacitor(far, volts, 10 ** rng.uniform(-6, -4))
        return far, volts, amps

    def load(self, letter: str, node: str, volts: float, amps: float) -> None:
        ends, rng = _ends(node, volts), self.rng
        size, draws = abs(volts), amps * rng.uniform(0.3, 0.6)
        if letter == "S":
            self.add(rm.Load, "Q", *ends, amps=draws)
        elif letter == "O":
            self.add(rm.Load, "Q", *ends, ohms=size / draws)
        elif letter == "P":
            self.add(rm.Load, "Q", *ends, watts=size * draws * 0.5, at_volts=size)
        elif letter == "M":
            self.map.add(rm.Load(self.name("Q"), *ends, amps=draws, at_volts=size, law="lamp"))
        else:
            ohms = 0.05 * size / amps
            self.add(rm.Zener, "Z", *ends, zener_volts=size * rng.uniform(0.8, 1.3), ohms=ohms)


def _ends(node: str, volts: float) -> tuple[str, str]:
    return (node, "0V") if volts > 0 else ("0V", node)


def keeps_the_laws(s: rm.Solution) -> None:
    """See that energy, charge and flux come back after a turn, and that no part makes heat of none.

    What the mean misses is measured against what flows there and back.
    """
    assert s.turn is not None
    assert s.power_in == pytest.approx(s.power_out, rel=1e-6, abs=1e-9)
    at, amps, rms = s.network.slot_node, s.turn.pin_mean, s.turn.pin_rms
    nodes = len(s.nodes)
    total = np.bincount(at[at >= 0], amps[at >= 0], nodes)
    size = np.bincount(at[at >= 0], rms[at >= 0], nodes)
    assert np.all(np.abs(total) <= 1e-8 * size + 1e-8 * rms.max())
    for ref, part in s.network.circuit.parts.items():
        found = s.part(ref)
        if isinstance(part, rm.Capacitor):
            leak = found.volts / part.leak_ohms if part.leak_ohms else 0.0
            near = 1e-4 * found.amps_rms + 1e-8
            assert found.amps == pytest.approx(leak, rel=1e-4, abs=near), ref
        if isinstance(part, rm.Choke):
            mean = part.ohms * found.amps
            assert found.volts == pytest.approx(mean, rel=1e-4, abs=1e-4 * found.volts_peak), ref
            heat = part.ohms * found.amps_rms**2
            # Its loss comes on top, which is as good as nothing unless it runs dry.
            assert heat * (1 - 1e-3) <= found.watts <= heat * 1.05 + 1e-3 * s.power_in, ref
        if not isinstance(part, rm.Source | rm.Winding):
            assert found.watts >= -1e-5 * s.power_in, ref


def within_the_windings(s: rm.Solution) -> None:
    """See that nothing stands above what the windings can make together."""
    parts = s.network.circuit.parts.values()
    most = sum(sqrt(2) * p.volts_rms for p in parts if isinstance(p, rm.Winding))
    for node in s.nodes:
        ripple = s.ripple(node)
        assert max(abs(ripple.low_volts), abs(ripple.high_volts)) <= 1.05 * most + 2, node


@pytest.mark.parametrize(
    "letters",
    ["RSO", "RSOM", "RSOZ", "RLSO", "RUSO", "RSOP", "RKSO", "RRLUKSOPMZ"],
    ids=["droppers", "lamps", "zeners", "chokes", "regulators", "power", "converters", "all"],
)
def test_random_supplies_keep_the_laws(letters: str) -> None:
    @settings(max_examples=25, derandomize=True)
    @given(st.integers(0, 10**6))
    def check(seed: int) -> None:
        s = rm.solve(Supply(seed, letters).map)
        assert s.status == "solved", s.message
        keeps_the_laws(s)
        if "L" not in letters:
            within_the_windings(s)

    check()


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_keep_the_laws(name: str) -> None:
    m = rm.load(data_dir("example_boards") / f"{name}.railmap")
    for setup in (None, *m.setups.values()):
        s = rm.solve(m, setup=setup)
        keeps_the_laws(s)
        within_the_windings(s)


@settings(max_examples=10)
@given(st.integers(0, 10**6))
@example(0)
def test_solving_twice_gives_the_same(seed: int) -> None:
    m = Supply(seed, "RLSOMZ").map
    one, other = rm.solve(m), rm.solve(m)
    assert one.status == other.status == "solved"
    assert [one.volts(n) for n in one.nodes] == [other.volts(n) for n in other.nodes]
    assert [one.part(r).watts for r in one.refs] == [other.part(r).watts for r in other.refs]


# scaling


def figures(s: rm.Solution) -> np.ndarray:
    found: list[float] = []
    for node in s.nodes:
        ripple = s.ripple(node)
        found += [s.volts(node), ripple.low_volts, ripple.high_volts, s.volts_rms(node)]
    return np.array(found)


def scaled(factor: float) -> list[rm.Part]:
    """Return a supply whose every voltage and steady current is that many times as large."""
    return [
        rm.Winding("T1", "A", "0V", volts_rms=20 * factor, ohms=1),
        rm.Winding("T2", "0V", "B", volts_rms=20 * factor, ohms=1),
        rm.Bridge("B1", "A", "B", "P", "N", forward_volts=0.75 * factor, ohms=0.05),
        rm.Capacitor("C1", "P", "0V", farads=470e-6, esr_ohms=0.1),
        rm.Capacitor("C2", "0V", "N", farads=220e-6),
        rm.Resistor("R1", "P", "Q", ohms=47),
        rm.Capacitor("C3", "Q", "0V", farads=100e-6),
        rm.Load("L1", "Q", "0V", amps=0.1 * factor, collapse_volts=factor),
        rm.Zener("D1", "Q", "0V", zener_volts=18 * factor, ohms=10),
        rm.Resistor("R2", "N", "M", ohms=68),
        rm.Load("L2", "0V", "M", ohms=220),
    ]


@pytest.mark.parametrize("factor", [0.1, 3.0, 17.0])
def test_all_volts_scaled(factor: float) -> None:
    one, other = solved(*scaled(1)), solved(*scaled(factor))
    assert figures(other) == pytest.approx(figures(one) * factor, rel=1e-5)
    assert other.part("R1").watts == pytest.approx(one.part("R1").watts * factor**2, rel=1e-5)


@pytest.mark.parametrize("factor", [0.2, 1.2, 8.0])
def test_frequency_up_and_capacitance_and_inductance_down(factor: float) -> None:
    def parts(k: float) -> list[rm.Part]:
        return [
            *centre_tap(), rm.Capacitor("C1", "P", "0V", farads=470e-6 / k),
            rm.Choke("L1", "P", "Q", henries=0.3 / k, ohms=10),
            rm.Capacitor("C2", "Q", "0V", farads=220e-6 / k, esr_ohms=0.2),
            rm.Resistor("R1", "Q", "0V", ohms=150),
        ]  # fmt: skip

    one, other = solved(*parts(1), hertz=50), solved(*parts(factor), hertz=50 * factor)
    # The moments of change lie on a grid of the turn, so that runs differ by a part of that.
    assert figures(other) == pytest.approx(figures(one), rel=1e-4, abs=1e-3)
    assert other.ripple("Q").hertz == pytest.approx(100 * factor)


@pytest.mark.parametrize("mains", [180.0, 253.0])
def test_mains_scale_the_windings(mains: float) -> None:
    parts = [*bridge(20), *tail()]
    more = [*bridge(20 * mains / 230), *tail()]
    by_mains = rm.solve(map_of(*parts), mains_volts=mains)
    by_winding = rm.solve(map_of(*more))
    assert figures(by_mains) == pytest.approx(figures(by_winding), rel=1e-9, abs=1e-12)
    assert by_mains.part("T1").delivered_watts == pytest.approx(
        by_winding.part("T1").delivered_watts, rel=1e-9
    )


# frequency and faults


CASES: list[tuple[Callable[[], list[rm.Part]], dict[str, Fault], int]] = [
    (half_wave, {}, 1),
    (centre_tap, {}, 2),
    (bridge, {}, 2),
    (centre_tap, {"D2": rm.OPEN}, 1),
    (centre_tap, {"D1": rm.OPEN}, 1),
    (centre_tap, {"T2": rm.OPEN}, 1),
    (centre_tap, {"T1": rm.OPEN}, 1),
]


@pytest.mark.parametrize(("front", "faults", "times"), CASES)
@pytest.mark.parametrize("hertz", [50, 60])
@pytest.mark.parametrize("farads", [100e-6, 4700e-6])
def test_ripple_comes_once_or_twice_a_turn(front, faults, times, hertz, farads) -> None:
    s = solved(*front(), *tail(farads), hertz=hertz, change=rm.what_if(faults))
    assert s.ripple("P").hertz == times * hertz
    assert s.ripple("A").hertz == hertz or faults.get("T1") is rm.OPEN


def test_an_open_diode_leaves_the_peak_and_deepens_the_valley() -> None:
    parts = [*centre_tap(ohms=0.1), *tail()]
    whole, broken = solved(*parts), solved(*parts, change=rm.what_if(D2=rm.OPEN))
    one, other = whole.ripple("P"), broken.ripple("P")
    assert other.high_volts == pytest.approx(one.high_volts, rel=0.01)
    assert 1.8 < other.volts_pp / one.volts_pp < 2.5
    assert broken.part("D2").amps == 0
    assert broken.part("D1").amps == pytest.approx(broken.part("R1").amps, rel=1e-4)


def test_a_weak_half_shows_once_a_turn() -> None:
    even = solved(*centre_tap(), *tail())
    odd = solved(*centre_tap(), *tail(), change=rm.what_if(D2={"ohms": 10.0}))
    assert (even.ripple("P").hertz, odd.ripple("P").hertz) == (100, 50)


@pytest.mark.parametrize("front", [half_wave, centre_tap, bridge])
def test_without_load_the_reservoir_charges_to_the_peak(front) -> None:
    s = solved(*front(), rm.Capacitor("C1", "P", "0V", farads=1000e-6))
    drops = 2 if front is bridge else 1
    # The last tenth of a volt comes by the gigaohm that a blocking diode leaks.
    assert 20 * sqrt(2) - drops * 0.75 - 0.05 < s.volts("P") <= 20 * sqrt(2)
    assert s.ripple("P").volts_pp < 1e-3
    assert s.power_in < 1e-5


@pytest.mark.parametrize("front", [half_wave, centre_tap, bridge])
def test_an_open_reservoir_leaves_the_bare_half_waves(front) -> None:
    s = solved(*front(), *tail(), change=rm.what_if(C1=rm.OPEN))
    ripple = s.ripple("P")
    drops = (2 if front is bridge else 1) * 0.75
    slopes = (2 if front is bridge else 1) * 0.05 + 1
    assert ripple.low_volts == pytest.approx(0, abs=0.01)
    top = (20 * sqrt(2) - drops) * 100 / (100 + slopes)
    assert ripple.high_volts == pytest.approx(top, rel=1e-3)
    assert s.part("C1").amps_rms == 0


def test_a_leaking_capacitor_is_a_resistor_beside_it() -> None:
    leaky = solved(*bridge(), rm.Capacitor("C1", "P", "0V", farads=470e-6, leak_ohms=300))
    beside = solved(*bridge(), *tail(470e-6, 300))
    assert leaky.volts("P") == pytest.approx(beside.volts("P"), rel=1e-6)
    assert leaky.ripple("P").volts_pp == pytest.approx(beside.ripple("P").volts_pp, rel=1e-6)
    assert leaky.part("C1").amps == pytest.approx(beside.part("R1").amps, rel=1e-6)
    assert leaky.part("C1").watts == pytest.approx(beside.part("R1").watts, rel=1e-3)


@pytest.mark.parametrize(
    "values", [{"watts": 2.5}, {"watts": 2.5, "at_volts": 24.0}, {"amps": 0.1, "at_volts": 24.0}]
)
def test_a_power_load_alone_on_a_reservoir(values) -> None:
    load = rm.Load("L1", "P", "0V", law="power", **values)
    s = solved(*bridge(), rm.Capacitor("C1", "P", "0V", farads=1000e-6), load)
    assert 22 < s.volts("P") < 27
    assert s.part("L1").watts == pytest.approx(values.get("watts", 2.4), rel=2e-3)
    keeps_the_laws(s)


@pytest.mark.parametrize("farads", [None, 1e-5])
@pytest.mark.parametrize("limit", [None, 0.05, 0.5])
def test_a_regulator_with_a_capacitor_behind_it(farads, limit) -> None:
    more = [] if farads is None else [rm.Capacitor("C2", "Q", "0V", farads=farads)]
    s = solved(
        *bridge(), rm.Capacitor("C1", "P", "0V", farads=1e-3),
        rm.Regulator("U1", "P", "Q", "0V", volts=15, limit_amps=limit),
        rm.Load("L1", "Q", "0V", amps=0.02), *more,
    )  # fmt: skip
    assert s.volts("Q") == pytest.approx(15 - 0.02 * 0.001, rel=1e-6)
    assert s.ripple("Q").volts_pp < 1e-6
    assert s.findings == ()
    keeps_the_laws(s)


def test_a_choke_that_runs_dry_stays_within_the_windings() -> None:
    s = solved(
        *bridge(), rm.Choke("L1", "P", "Q", henries=0.01, ohms=2),
        rm.Capacitor("C1", "Q", "0V", farads=470e-6), rm.Resistor("R1", "Q", "0V", ohms=120),
    )  # fmt: skip
    keeps_the_laws(s)
    within_the_windings(s)
    assert s.part("L1").watts == pytest.approx(2 * s.part("L1").amps_rms ** 2, rel=0.02)


def test_two_capacitors_in_series_share_the_volts() -> None:
    # Charged from rest by the same current, each takes volts by its capacitance.
    s = solved(
        *bridge(), rm.Capacitor("C1", "P", "M", farads=1000e-6),
        rm.Capacitor("C2", "M", "0V", farads=3000e-6), rm.Resistor("R1", "P", "0V", ohms=100),
    )  # fmt: skip
    assert s.volts("M") == pytest.approx(s.volts("P") / 4, rel=1e-3)


# several windings


def test_windings_of_one_transformer_keep_step() -> None:
    def winding(ref: str, a: str, b: str, rms: float) -> rm.Winding:
        return rm.Winding(ref, a, b, volts_rms=rms, ohms=0.5, transformer="TR1")

    aiding = solved(
        winding("T1", "A", "M", 12), winding("T2", "M", "B", 8),
        rm.Bridge("B1", "A", "B", "P", "0V"), *tail(),
    )  # fmt: skip
    one = solved(
        rm.Winding("T1", "A", "B", volts_rms=20, ohms=1), rm.Bridge("B1", "A", "B", "P", "0V"),
        *tail(),
    )  # fmt: skip
    assert aiding.volts("P") == pytest.approx(one.volts("P"), rel=1e-9)
    assert aiding.power_in == pytest.approx(one.power_in, rel=1e-9)
    share = aiding.part("T1").delivered_watts / aiding.part("T2").delivered_watts
    assert share == pytest.approx(12 / 8, rel=1e-9)
    opposed = solved(
        winding("T1", "A", "M", 12), winding("T2", "B", "M", 8),
        rm.Bridge("B1", "A", "B", "P", "0V"), *tail(),
    )  # fmt: skip
    assert opposed.ripple("P").high_volts < 4 * sqrt(2)
    assert opposed.part("T2").delivered_watts < 0


def test_separate_supplies_do_not_feel_each_other() -> None:
    first, second = [*bridge(), *tail()], [
        rm.Winding("T9", "X", "Y", volts_rms=9, ohms=0.3), rm.Bridge("B9", "X", "Y", "Z", "0V"),
        rm.Capacitor("C9", "Z", "0V", farads=2200e-6), rm.Load("L9", "Z", "0V", amps=0.2),
    ]  # fmt: skip
    together, one, other = solved(*first, *second), solved(*first), solved(*second)
    for s, node in ((one, "P"), (other, "Z")):
        assert together.volts(node) == pytest.approx(s.volts(node), rel=1e-4)
        swing = s.ripple(node).volts_pp
        assert together.ripple(node).volts_pp == pytest.approx(swing, rel=2e-3)
    assert together.power_in == pytest.approx(one.power_in + other.power_in, rel=1e-4)


def test_a_winding_beside_a_source() -> None:
    # A battery that the supply charges through a resistor: mean current by mean volts.
    s = solved(
        *bridge(), *tail(), rm.Source("V1", "V", "0V", volts=12, ohms=0.1),
        rm.Resistor("R2", "P", "V", ohms=100),
    )  # fmt: skip
    assert s.part("R2").amps == pytest.approx((s.volts("P") - 12) / 100.1, rel=1e-6)
    assert s.part("V1").delivered_watts == pytest.approx(-12 * s.part("R2").amps, rel=1e-6)
    keeps_the_laws(s)


def test_a_bare_winding_into_a_resistor_by_hand() -> None:
    s = solved(
        rm.Winding("T1", "A", "0V", volts_rms=24, ohms=2), rm.Resistor("R1", "A", "0V", ohms=10)
    )
    assert s.part("R1").amps_rms == pytest.approx(2, rel=1e-9)
    assert s.part("R1").watts == pytest.approx(40, rel=1e-9)
    assert s.part("T1").watts == pytest.approx(8, rel=1e-9)
    assert s.part("T1").delivered_watts == pytest.approx(48, rel=1e-9)
    assert s.volts_rms("A") == pytest.approx(20, rel=1e-9)
    assert s.part("R1").amps_peak == pytest.approx(2 * sqrt(2), rel=1e-4)


@pytest.mark.parametrize("henries", [0.01, 0.5])
def test_reactances_by_hand(henries: float) -> None:
    # A winding into a choke and a resistor, and into a capacitor and a resistor.
    w, r = 2 * pi * 50, 100.0
    choke = solved(
        rm.Winding("T1", "A", "0V", volts_rms=10, ohms=1),
        rm.Choke("L1", "A", "M", henries=henries, ohms=5), rm.Resistor("R1", "M", "0V", ohms=r),
    )  # fmt: skip
    # Its loss lies across its inductance: a thousand times its reactance at 50 Hz.
    lossy = 5 + 1 / (1 / (1j * w * henries) + 1 / (LOSS_OHMS_A_HENRY * henries))
    amps = 10 / abs(r + 1 + lossy)
    assert choke.part("R1").amps_rms == pytest.approx(amps, rel=1e-6)
    assert amps == pytest.approx(10 / np.hypot(r + 6, w * henries), rel=1e-3)
    heat = amps**2 * (r + 1 + lossy.real)
    assert choke.part("T1").delivered_watts == pytest.approx(heat, rel=1e-6)
    farads = 1 / (w**2 * henries)
    capacitor = solved(
        rm.Winding("T1", "A", "0V", volts_rms=10, ohms=1),
        rm.Capacitor("C1", "A", "M", farads=farads, esr_ohms=2),
        rm.Resistor("R1", "M", "0V", ohms=r),
    )  # fmt: skip
    amps = 10 / np.hypot(r + 3, w * henries)
    assert capacitor.part("R1").amps_rms == pytest.approx(amps, rel=1e-6)
    assert capacitor.part("C1").watts == pytest.approx(2 * amps**2, rel=1e-6)


# status and findings


def test_a_regulator_that_drops_out_is_named() -> None:
    def supply(rms: float) -> list[rm.Part]:
        return [
            *bridge(rms), rm.Capacitor("C1", "P", "0V", farads=470e-6),
            rm.Regulator("U1", "P", "Q", "0V", volts=12, dropout_volts=2),
            rm.Load("L1", "Q", "0V", amps=0.25),
        ]  # fmt: skip

    def said(rms: float) -> Sequence[str]:
        return [f.sentence for f in solved(*supply(rms)).findings if f.kind == "drop-out"]

    assert said(18) == []
    (valleys,) = said(13)
    assert valleys.startswith("U1 drops out in the valleys of the ripple")
    assert "altogether" in said(9)[0]


def test_an_island_is_named_and_the_rest_solved() -> None:
    s = rm.solve(map_of(*bridge(), *tail(), rm.Winding("T9", "X", "Y", volts_rms=9, ohms=1),
                        rm.Resistor("R9", "X", "Y", ohms=10)))  # fmt: skip
    assert s.status == "partly solved"
    assert np.isnan(s.volts("X"))
    assert np.isnan(s.ripple("X").volts_pp)
    assert s.volts("P") == pytest.approx(solved(*bridge(), *tail()).volts("P"), rel=1e-9)


IMPOSSIBLE: list[list[rm.Part]] = [
    [rm.Winding("T1", "A", "0V", volts_rms=20), rm.Winding("T2", "A", "0V", volts_rms=20)],
    [rm.Winding("T1", "A", "0V", volts_rms=20), rm.Source("T2", "A", "0V", volts=20)],
    [rm.Winding("T1", "A", "0V", volts_rms=20), rm.Link("T2", "A", "0V")],
]


@pytest.mark.parametrize("parts", IMPOSSIBLE)
def test_a_loop_without_resistance_is_refused(parts) -> None:
    s = rm.solve(map_of(*parts, rm.Resistor("R1", "A", "0V", ohms=10)))
    assert s.status == "contradiction"
    assert not s.has_figures
    assert "T1" in s.message


def test_a_shorted_winding_without_resistance_is_refused() -> None:
    parts = [rm.Winding("T1", "A", "0V", volts_rms=20), rm.Resistor("R1", "A", "0V", ohms=10)]
    s = rm.solve(map_of(*parts), change=rm.what_if(R1=rm.SHORT))
    assert s.status == "contradiction"


@pytest.mark.parametrize("extra", [
    [rm.Choke("L1", "P", "Q", henries=1), rm.Link("K1", "P", "Q"),
     rm.Resistor("R2", "Q", "0V", ohms=100)],
    [rm.Choke("L1", "P", "Q", henries=1), rm.Choke("L2", "P", "Q", henries=1),
     rm.Resistor("R2", "Q", "0V", ohms=100)],
    [rm.Capacitor("C2", "X", "0V", farads=1e-6)],
    [rm.Choke("L1", "P", "X", henries=1)],
])  # fmt: skip
def test_parts_whose_state_nothing_settles(extra) -> None:
    # A current that may go round for ever, or a charge that nothing leads away: none, from rest.
    s = solved(*bridge(), *tail(), *extra)
    plain = solved(*bridge(), rm.Capacitor("C1", "P", "0V", farads=1000e-6),
                   rm.Resistor("R1", "P", "0V", ohms=50 if len(extra) == 3 else 100))  # fmt: skip
    assert s.volts("P") == pytest.approx(plain.volts("P"), rel=1e-3)


def test_a_part_of_an_unplugged_board_is_under_no_stress() -> None:
    m = map_of(*bridge(), *tail())
    m.add_board("Amplifier", width_mm=100, height_mm=100)
    m.add(rm.Resistor("R2", "P", "Q", ohms=100, board="Amplifier"))
    m.add(rm.Capacitor("C2", "Q", "0V", farads=1e-5, rated_volts=35, board="Amplifier"))
    m.add(rm.Load("L1", "Q", "0V", amps=0.01, max_volts=30, board="Amplifier"))
    s = rm.solve(m, change=rm.what_if(unplugged=["Amplifier"]))
    for ref in ("C2", "L1"):
        part = s.part(ref)
        assert (part.amps, part.amps_rms, part.watts) == (0, 0, 0), ref
        assert np.isnan(part.volts), ref
        assert not part.volts_peak > 0, ref
        assert not part.stress > 0, ref


def test_waves_are_what_a_scope_shows() -> None:
    m = map_of(
        rm.Winding("T1", "A", "0V", volts_rms=20), rm.Diode("D1", "A", "P", **DIODE),
        rm.Capacitor("C1", "P", "0V", farads=1e-3, esr_ohms=0.1),
        rm.Resistor("R1", "P", "0V", ohms=100),
    )  # fmt: skip
    s = rm.solve(m)
    assert s.state is not None
    shown = waves(s.state)
    assert np.all(np.diff(shown.seconds) >= 0)
    assert shown.seconds[0] == 0
    assert shown.seconds[-1] < 1 / m.mains_hertz
    winding, rail = (shown.volts[:, s.nodes.index(node)] for node in ("A", "P"))
    sine = 20 * sqrt(2) * np.sin(2 * pi * m.mains_hertz * shown.seconds)
    assert winding == pytest.approx(sine, abs=1e-6)
    ripple = s.ripple("P")
    assert rail.min() == pytest.approx(ripple.low_volts, abs=0.05 * ripple.volts_pp)
    assert rail.max() == pytest.approx(ripple.high_volts, abs=0.05 * ripple.volts_pp)
    load = shown.amps[:, s.network.start[s.network.part_index["R1"]]]
    assert load == pytest.approx(rail / 100, rel=1e-9)


@pytest.mark.parametrize(
    ("letters", "seed"), [("RLSO", 150251), ("RRLUKSOPMZ", 568736), ("RUSO", 128300)]
)
def test_supplies_that_take_long_to_come_to_rest(letters: str, seed: int) -> None:
    # Newton's method alone goes round in circles on these, or flings a state far away.
    s = rm.solve(Supply(seed, letters).map)
    assert s.status == "solved"
    keeps_the_laws(s)
