"""The operating point: what holds on every map, and what each kind of part does in each regime.

Kirchhoff's current law and power in = power out are held on thousands of random maps, see
``adds_up`` in conftest.py. The closed forms are our own algebra unless a source is named.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import railmap as rm
from railmap.solve import equations
from railmap.solve.assemble import assemble, with_part
from railmap.solve.front import solve_network
from railmap.solve.nodal import operate
from railmap.solve.what_if import carry_out, what_if

LINEAR, PASSIVE, ALL = "ROJCH", "RODZBSMJCH", "RODZBSPMUKQJCHW"
SETTLING = {
    "resistors and links": "RJCH",
    "junctions": "DZB",
    "loads": "ROSPM",
    "regulators": "UUR",
    "mixed": "RDZSOPMBUJC",
}
UNRULY = {"transistors": "Q", "converters": "K", "everything": ALL}
BATCH = 40
"""Maps an example."""

seeds = st.integers(0, 10**9)


@pytest.mark.parametrize("name", SETTLING)
@settings(max_examples=10)
@given(first=seeds)
def test_currents_and_powers_add_up_in_any_supply(rail_map, adds_up, name, first):
    for seed in range(first, first + BATCH):
        s = rm.solve(rail_map(seed, SETTLING[name]))
        assert s.status in ("solved", "contradiction"), s.message
        if s.has_figures:
            adds_up(s)


@pytest.mark.parametrize("name", UNRULY)
@settings(max_examples=10)
@given(first=seeds)
def test_what_does_not_settle_shows_nothing(rail_map, adds_up, name, first):
    # Transistors can hold each other, and converters feed each other, without any rest.
    for seed in range(first, first + BATCH // 10):
        settles_or_shows_nothing(rm.solve(rail_map(seed, UNRULY[name])), adds_up)


def settles_or_shows_nothing(s, adds_up):
    if s.has_figures:
        adds_up(s)
    else:
        assert s.status in ("contradiction", "not settled")
        assert s.findings[0].refs
        assert np.isnan(s.part_volts).all()
        assert np.isnan(s.part_amps).all()


@settings(max_examples=25)
@given(first=seeds)
def test_currents_and_powers_add_up_in_maps_without_any_sense(wild_map, adds_up, first):
    for seed in range(first, first + BATCH):
        settles_or_shows_nothing(rm.solve(wild_map(seed, "VVIRDZBCHSOPMUQJWF")), adds_up)


def test_nearly_every_map_without_any_sense_settles(wild_map):
    statuses = [rm.solve(wild_map(seed, "VVIRDZBCHSOPMUJWF")).status for seed in range(1000)]
    assert statuses.count("not settled") <= 2
    assert statuses.count("solved") > 500


def all_volts(s):
    return s.operating.node_volts + s.operating.node_shift


def like(values, near=1e-9, top=None):
    """Compare with figures of one map: to a part in a million, or of the largest of them."""
    largest = np.max(np.abs(values)) if top is None else top
    return pytest.approx(values, rel=1e-6, abs=near * largest + 1e-12)


def rebuilt(m, change):
    """Return a map with every part changed."""
    new = rm.RailMap()
    for part in m.parts.values():
        new.add(change(part))
    return new


@settings(max_examples=60)
@given(seed=seeds, factor=st.floats(1e-2, 1e2))
def test_scaling_every_resistance_scales_no_divider(rail_map, seed, factor):
    def scaled(part):
        fields = {n: v * factor for n, v in ohms_of(part).items()}
        return part.changed(**fields)

    m = rail_map(seed, LINEAR)
    s, other = rm.solve(m), rm.solve(rebuilt(m, scaled))
    assert s.status == other.status
    if s.has_figures:
        assert all_volts(other) == like(all_volts(s))
        assert other.part_amps * factor == like(s.part_amps)


def ohms_of(part):
    fields = ("ohms", "leak_ohms")
    return {n: getattr(part, n) for n in fields if getattr(part, n, None) is not None}


@settings(max_examples=60)
@given(seed=seeds, share=st.floats(0.1, 0.9))
def test_superposition(rail_map, seed, share):
    """What two sources do together is the sum of what each does alone."""

    def alone(number):
        def change(part):
            silent = isinstance(part, rm.Source) and part.ref != f"V{number}"
            return part.changed(volts=0.0) if silent else part

        return change

    m = rail_map(seed, LINEAR)
    s = rm.solve(m)
    if not s.has_figures or "V1" not in m.parts:
        return
    one, two = (rm.solve(rebuilt(m, alone(k))) for k in (0, 1))
    top = np.max(np.abs(all_volts(one))) + np.max(np.abs(all_volts(two)))
    assert all_volts(one) + all_volts(two) == like(all_volts(s), top=top)
    sized = rm.solve(rebuilt(m, lambda p: p.changed(volts=p.volts * share) if p.kind == "Source"
                             else p))  # fmt: skip
    assert all_volts(sized) == like(share * all_volts(s), top=top)


REVERSING = (rm.Diode, rm.Zener, rm.Capacitor)


@settings(max_examples=60)
@given(seed=seeds)
def test_a_map_turned_round_has_every_voltage_turned_round(rail_map, seed):
    """Negate all sources and turn all parts that have a direction: the same, upside down."""

    def turned(part):
        if isinstance(part, rm.Source):
            return part.changed(volts=-part.volts)
        if isinstance(part, REVERSING):
            first, last = part.pins
            return part.changed(**{first: getattr(part, last), last: getattr(part, first)})
        if isinstance(part, rm.Bridge):
            return part.changed(plus=part.minus, minus=part.plus)
        return part

    m = rail_map(seed, PASSIVE)
    s, other = rm.solve(m), rm.solve(rebuilt(m, turned))
    assert s.status == other.status
    if s.has_figures:
        top = np.max(np.abs(all_volts(s)))
        mirrored = dict(zip(other.nodes, all_volts(other), strict=True))
        for node, volts in zip(s.nodes, all_volts(s), strict=True):
            assert mirrored[node] == like(-volts, top=top)


@pytest.mark.parametrize("kinds", [PASSIVE, "UR", ALL])
@settings(max_examples=40)
@given(seed=seeds, factor=st.floats(0.3, 3))
def test_a_warm_start_ends_where_a_cold_one_does(rail_map, kinds, seed, factor):
    m = rail_map(seed, kinds)
    before = rm.solve(m)
    if before.status == "contradiction":
        return
    part = m.parts["R0"]
    drifted = with_part(before.network, part.with_value(part.ohms * factor))
    assert drifted is not None
    warm, cold = solve_network(m, drifted, before.operating), solve_network(m, drifted)
    assert warm.status == cold.status
    if warm.has_figures:
        assert all_volts(warm) == like(all_volts(cold), near=1e-8)


def test_a_warm_start_is_the_shorter_way(map_of):
    m = map_of(
        rm.Source("V1", "RAW", "0V", volts=30, ohms=2), rm.Resistor("R1", "RAW", "A", ohms=100),
        rm.Load("L1", "A", "0V", amps=0.1, at_volts=15, law="lamp"),
        rm.Resistor("R2", "A", "B", ohms=220), rm.Zener("D1", "B", "0V", zener_volts=5.1, ohms=5),
        rm.Load("L2", "B", "0V", amps=0.01),
    )  # fmt: skip
    before = rm.solve(m)
    drifted = with_part(before.network, m.parts["R1"].changed(ohms=101.0))
    assert drifted is not None
    assert operate(drifted, before.operating).steps < operate(drifted).steps


def test_the_operating_point_of_another_network_is_no_start(map_of):
    one = assemble(carry_out(map_of(rm.Source("V1", "A", "0V", volts=5)), what_if()))
    other = assemble(
        carry_out(
            map_of(
                rm.Source("V1", "A", "0V", volts=9), rm.Resistor("R1", "A", "B", ohms=1),
                rm.Diode("D1", "B", "0V"),
            ),
            what_if(),
        )
    )  # fmt: skip
    assert operate(other, operate(one)).node_volts == pytest.approx(operate(other).node_volts)


@settings(max_examples=40)
@given(seed=seeds)
def test_the_sparse_way_is_the_dense_way(rail_map, seed):
    m = rail_map(seed, ALL)
    dense = rm.solve(m)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(equations, "SPARSE_FROM", 1)
        patch.setattr(equations, "MANY_COLUMNS", 0.1)
        sparse = rm.solve(m)
    assert sparse.status == dense.status
    if dense.has_figures:
        assert all_volts(sparse) == like(all_volts(dense))


def ladder(rungs):
    """Build a long chain of dividers, with as many unknowns as rungs."""
    m = rm.RailMap()
    m.add(rm.Source("V1", "N0", "0V", volts=100))
    for i in range(rungs):
        m.add(rm.Resistor(f"RA{i}", f"N{i}", f"N{i + 1}", ohms=10))
        m.add(rm.Resistor(f"RB{i}", f"N{i + 1}", "0V", ohms=1e4))
    return m


def test_a_large_map_takes_the_sparse_way(adds_up, monkeypatch):
    m = ladder(2 * equations.SPARSE_FROM)
    sparse = rm.solve(m)
    adds_up(sparse)
    monkeypatch.setattr(equations, "SPARSE_FROM", 10**6)
    assert all_volts(sparse) == pytest.approx(all_volts(rm.solve(m)), rel=1e-9)


def test_a_large_map_with_a_node_that_nothing_decides_is_no_crash(monkeypatch):
    monkeypatch.setattr(equations, "SPARSE_FROM", 1)
    monkeypatch.setattr(equations, "MANY_COLUMNS", 0.1)
    flat = (rm.Load("L1", "A", "0V", watts=5), rm.Source("V1", "A", "0V", volts=5, ohms=1e-3))
    m = rm.RailMap()
    for part in flat:
        m.add(part)
    assert rm.solve(m).status == "solved"


def test_a_start_that_leads_nowhere_is_left(map_of):
    m = map_of(
        rm.Source("V1", "A", "0V", volts=5), rm.Resistor("R1", "A", "B", ohms=1),
        rm.Diode("D1", "B", "0V"),
    )  # fmt: skip
    before = rm.solve(m)
    lost = replace(before.operating, node_volts=np.full(len(before.nodes), np.nan))
    assert all_volts(solve_network(m, before.network, lost)) == like(all_volts(before))


# Regulators

POLARITY = pytest.mark.parametrize("sign", [1, -1], ids=["positive", "negative"])


def regulated(solved, sign, volts, ohms, **more):
    return solved(
        rm.Source("V1", "IN", "0V", volts=sign * volts, ohms=0.5),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=sign * 12, dropout_volts=2, ohms=0.01, **more),
        rm.Resistor("R1", "OUT", "0V", ohms=ohms),
    )


@POLARITY
def test_a_regulator_holds(solved, sign):
    s = regulated(solved, sign, 20, 120, quiescent_amps=0.005)
    amps = 12 / 120.01
    part = s.part("U1")
    assert s.volts("OUT") == pytest.approx(sign * amps * 120, rel=1e-8)
    assert part.amps == pytest.approx(sign * amps, rel=1e-8)
    assert part.pin_amps["common"] == pytest.approx(-sign * 0.005, rel=1e-6)
    assert s.volts("IN") == pytest.approx(sign * (20 - 0.5 * (amps + 0.005)), rel=1e-8)
    heat = abs(s.volts("IN", "OUT")) * amps + abs(s.volts("IN")) * 0.005
    assert part.watts == pytest.approx(heat, rel=1e-6)


@POLARITY
def test_a_regulator_drops_out(solved, sign):
    s = regulated(solved, sign, 10, 120)
    amps = (10 - 2) / (120 + 0.5 + 0.01)
    assert s.part("U1").amps == pytest.approx(sign * amps, rel=1e-8)
    assert s.volts("IN", "OUT") == pytest.approx(sign * (2 + 0.01 * amps), rel=1e-8)


@POLARITY
def test_a_regulator_limits(solved, sign):
    s = regulated(solved, sign, 20, 1, limit_amps=0.5)
    assert s.part("U1").amps == pytest.approx(sign * 0.5, rel=1e-6)
    assert s.volts("OUT") == pytest.approx(sign * 0.5, rel=1e-6)


@POLARITY
def test_a_regulator_limits_while_dropped_out(solved, sign):
    s = regulated(solved, sign, 10, 1, limit_amps=0.5)
    assert s.part("U1").amps == pytest.approx(sign * 0.5, rel=1e-6)


@POLARITY
def test_a_regulator_blocks_what_comes_from_behind(solved, sign):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=sign * 20, ohms=0.5),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=sign * 12),
        rm.Source("V2", "OUT", "0V", volts=sign * 15, ohms=1),
    )
    assert s.volts("OUT") == pytest.approx(sign * 15, rel=1e-6)
    assert abs(s.part("U1").amps) < 1e-7


@POLARITY
def test_a_regulator_without_input_passes_nothing_either_way(solved, sign):
    s = regulated(solved, sign, 1, 120)
    assert abs(s.part("U1").amps) < 1e-7
    backwards = regulated(solved, sign, -20, 120)
    assert abs(backwards.part("U1").amps) < 1e-7


def test_regulators_in_a_row(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=20),
        rm.Regulator("U1", "IN", "MID", "0V", volts=12, quiescent_amps=0.005),
        rm.Regulator("U2", "MID", "OUT", "0V", volts=5, quiescent_amps=0.003),
        rm.Load("L1", "OUT", "0V", amps=0.1),
    )
    assert s.volts("OUT") == pytest.approx(5 - 0.0001, rel=1e-6)
    assert s.part("V1").amps == pytest.approx(0.108, rel=1e-6)


@POLARITY
def test_a_regulator_raised_by_a_zener_in_its_common_lead(solved, sign):
    # 12 V above a zener that its quiescent current and a bleeder keep awake.
    zener = ("Z", "0V") if sign > 0 else ("0V", "Z")
    s = solved(
        rm.Source("V1", "IN", "0V", volts=sign * 30),
        rm.Regulator("U1", "IN", "OUT", "Z", volts=sign * 12, quiescent_amps=0.005),
        rm.Resistor("R1", "OUT", "Z", ohms=1200),
        rm.Zener("D1", *zener, zener_volts=6.8, ohms=0.5),
        rm.Load("L1", "OUT" if sign > 0 else "0V", "0V" if sign > 0 else "OUT", amps=0.1),
    )
    assert s.volts("OUT") == pytest.approx(sign * (12 + 6.8 + 0.015 * 0.5), rel=1e-4)


def test_a_regulator_with_its_common_lead_off_lets_its_input_through(solved):
    # The output follows the input: what the lead was for.
    s = solved(
        rm.Source("V1", "IN", "0V", volts=20, ohms=0.1),
        rm.Regulator("U1", "IN", "OUT", "COM", volts=12, dropout_volts=2, quiescent_amps=0.005),
        rm.Link("J1", "COM", "0V"),
        rm.Resistor("R1", "OUT", "0V", ohms=120),
        change=rm.what_if(J1=rm.OPEN),
    )
    assert s.volts("OUT") == pytest.approx(18, rel=0.01)


# Converters


@pytest.mark.parametrize("in_sign", [1, -1])
@pytest.mark.parametrize("out_sign", [1, -1])
def test_a_converter_takes_power(solved, in_sign, out_sign):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=in_sign * 24, ohms=0.5),
        rm.Converter("U1", "IN", "OUT", "0V", volts=out_sign * 5, efficiency=0.8),
        rm.Resistor("R1", "OUT", "0V", ohms=5),
    )
    sent = s.part("R1").watts
    assert sent == pytest.approx(5.0, rel=1e-3)
    taken = s.volts("IN") * s.part("U1").pin_amps["input"]
    assert taken * 0.8 == pytest.approx(sent, rel=1e-6)
    assert s.part("U1").watts == pytest.approx(taken - sent, rel=1e-6)
    # 0.5 i^2 - 24 i + P = 0, the smaller root.
    amps = (24 - np.sqrt(24**2 - 2 * sent / 0.8)) / 1.0
    assert abs(s.part("V1").amps) == pytest.approx(amps, rel=1e-5)


def test_a_converter_takes_less_current_from_more_volts(solved):
    def amps(volts):
        s = solved(
            rm.Source("V1", "IN", "0V", volts=volts),
            rm.Converter("U1", "IN", "OUT", "0V", volts=5, efficiency=0.8),
            rm.Load("L1", "OUT", "0V", amps=1),
        )
        return s.part("V1").amps

    assert amps(12) / amps(24) == pytest.approx(2, rel=1e-6)


def test_a_converter_limits(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=24),
        rm.Converter("U1", "IN", "OUT", "0V", volts=5, efficiency=0.8, limit_amps=0.5),
        rm.Resistor("R1", "OUT", "0V", ohms=1),
    )
    assert s.volts("OUT") == pytest.approx(0.5, rel=1e-6)
    assert s.part("V1").amps == pytest.approx(0.25 / 0.8 / 24, rel=1e-5)


def test_a_converter_without_enough_input_gives_nothing(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=6, ohms=1),
        rm.Converter("U1", "IN", "OUT", "0V", volts=5, min_input_volts=8),
        rm.Resistor("R1", "OUT", "0V", ohms=5),
    )
    assert s.volts("OUT") == pytest.approx(0, abs=1e-6)
    assert s.part("V1").amps == pytest.approx(0, abs=1e-6)


either_sign = st.sampled_from([-1, 1])


@settings(max_examples=30)
@given(
    volts=st.floats(3, 100), set_volts=st.floats(1.5, 60), ohms=st.floats(1e-3, 1e3),
    load=st.floats(1e-3, 3), least=st.floats(1, 30), signs=st.tuples(either_sign, either_sign),
)  # fmt: skip
def test_a_converter_on_a_plain_supply_settles(
    map_of, adds_up, volts, set_volts, ohms, load, least, signs
):
    for fields in ({"amps": load}, {"ohms": set_volts / load}, {"watts": load * set_volts}):
        s = rm.solve(map_of(
            rm.Source("V1", "IN", "0V", volts=signs[0] * volts, ohms=ohms),
            rm.Converter("U1", "IN", "OUT", "0V", volts=signs[1] * set_volts,
                         min_input_volts=least),
            rm.Load("L1", "OUT", "0V", **fields),
        ))  # fmt: skip
        assert s.status == "solved", s.message
        adds_up(s)


def test_a_converter_on_its_own_in_the_air(map_of):
    s = rm.solve(map_of(rm.Converter("U1", "IN", "OUT", "0V", volts=5)))
    assert s.status == "solved"
    assert s.volts("OUT") == pytest.approx(0, abs=1e-6)


# Transistors


def follower(solved, sign, collector_volts, base_volts, ohms=50.0, base_ohms=0.0):
    return solved(
        rm.Source("V1", "C", "0V", volts=sign * collector_volts),
        rm.Source("V2", "B", "0V", volts=sign * base_volts, ohms=base_ohms),
        rm.PassTransistor(
            "Q1", "C", "B", "E", gain=50, polarity="npn" if sign > 0 else "pnp",
            forward_volts=0.7, ohms=0.05, saturation_ohms=0.2,
        ),
        rm.Resistor("R1", "E", "0V", ohms=ohms),
    )  # fmt: skip


@POLARITY
def test_a_transistor_follows_its_base(solved, sign):
    s = follower(solved, sign, 20, 12)
    amps = (12 - 0.7) / (50 + 0.05)
    part = s.part("Q1")
    assert s.volts("E") == pytest.approx(sign * amps * 50, rel=1e-6)
    assert part.pin_amps["base"] == pytest.approx(sign * amps / 51, rel=1e-5)
    assert part.amps == pytest.approx(sign * amps * 50 / 51, rel=1e-5)
    assert part.watts == pytest.approx((20 - amps * 50) * amps * 50 / 51, rel=0.02)


@POLARITY
def test_a_transistor_saturates(solved, sign):
    # The base has current for 60 mA at least, the load takes 50 mA.
    s = follower(solved, sign, 10, 12, ohms=200, base_ohms=1000)
    part = s.part("Q1")
    assert 0 < sign * part.volts < 0.02
    assert part.volts / part.amps == pytest.approx(0.2, rel=1e-6)
    assert abs(part.amps) < 50 * abs(part.pin_amps["base"])


@POLARITY
def test_a_transistor_is_cut_off(solved, sign):
    s = follower(solved, sign, 20, 0.5)
    assert abs(s.volts("E")) < 1e-5
    assert abs(s.part("Q1").amps) < 1e-6


@POLARITY
def test_a_transistor_passes_nothing_backwards(solved, sign):
    s = follower(solved, sign, -5, 12, ohms=1e4)
    part = s.part("Q1")
    assert abs(part.amps) < 1e-6
    assert abs(part.pin_amps["base"]) > 1e-4


# Junctions


def test_a_zener_rail_holds_until_it_is_starved(solved):
    def rail(ohms):
        return solved(
            rm.Source("V1", "IN", "0V", volts=20),
            rm.Resistor("R1", "IN", "OUT", ohms=100),
            rm.Zener("D1", "OUT", "0V", zener_volts=10, ohms=5),
            rm.Resistor("R2", "OUT", "0V", ohms=ohms),
        )

    held = rail(1000)
    # Currents at OUT: (20 - v) / 100 = v / 1000 + (v - 10) / 5.
    v = (0.2 + 2) / (0.01 + 0.001 + 0.2)
    assert held.volts("OUT") == pytest.approx(v, rel=1e-6)
    assert held.part("D1").amps == pytest.approx((v - 10) / 5, rel=1e-6)
    starved = rail(50)
    assert starved.volts("OUT") == pytest.approx(20 / 3, rel=1e-6)
    assert starved.part("D1").amps == pytest.approx(0, abs=1e-7)


def test_a_zener_the_wrong_way_round_is_a_diode(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=20), rm.Resistor("R1", "IN", "OUT", ohms=100),
        rm.Zener("D1", "0V", "OUT", zener_volts=10),
    )  # fmt: skip
    assert s.volts("OUT") == pytest.approx((0.75 / 0.05 + 0.2) / (1 / 0.05 + 0.01), rel=1e-6)


def test_two_zeners_in_a_row_share_a_current(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=30), rm.Resistor("R1", "IN", "A", ohms=1000),
        rm.Zener("D1", "A", "B", zener_volts=6.8, ohms=5),
        rm.Zener("D2", "B", "0V", zener_volts=5.1, ohms=10),
    )  # fmt: skip
    amps = (30 - 11.9) / 1015
    assert s.part("D1").amps == pytest.approx(amps, rel=1e-6)
    assert s.volts("B") == pytest.approx(5.1 + 10 * amps, rel=1e-6)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_bridge_rectifies_either_polarity(solved, sign):
    s = solved(
        rm.Source("V1", "S1", "S2", volts=sign * 20),
        rm.Bridge("D1", "S1", "S2", "P", "0V"),
        rm.Resistor("R1", "P", "0V", ohms=100),
    )
    amps = (20 - 2 * 0.75) / (100 + 2 * 0.05)
    assert s.volts("P") == pytest.approx(100 * amps, rel=1e-6)
    assert s.part("D1").amps == pytest.approx(amps, rel=1e-6)
    assert s.part("D1").watts == pytest.approx(20 * amps - 100 * amps**2, rel=1e-5)


def test_a_diode_lets_the_higher_of_two_supplies_through(solved):
    s = solved(
        rm.Source("V1", "A", "0V", volts=12), rm.Diode("D1", "A", "OUT"),
        rm.Source("V2", "B", "0V", volts=9), rm.Diode("D2", "B", "OUT"),
        rm.Resistor("R1", "OUT", "0V", ohms=100),
    )  # fmt: skip
    assert s.part("D1").amps == pytest.approx((12 - 0.75) / 100.05, rel=1e-6)
    assert abs(s.part("D2").amps) < 1e-8


def test_a_diode_exactly_at_its_knee(solved):
    s = solved(
        rm.Source("V1", "A", "0V", volts=0.75), rm.Diode("D1", "A", "B", ohms=0),
        rm.Resistor("R1", "B", "0V", ohms=1e6),
    )  # fmt: skip
    assert s.volts("B") == pytest.approx(0, abs=1e-3)


def test_junctions_that_meet_at_their_knees_settle(map_of):
    # The bridges leak as much as they would conduct: either piece is right, and one is taken.
    s = rm.solve(map_of(
        rm.Bridge("D1", "N4", "N5", "N6", "N3"), rm.Diode("D2", "N6", "N1"),
        rm.Source("V1", "N3", "N4", volts=-10.9911, ohms=0.0129),
        rm.Bridge("D3", "N6", "N5", "N2", "N1"),
    ))  # fmt: skip
    assert s.status == "partly solved"


# Loads


@given(volts=st.floats(5, 300), ohms=st.floats(0.1, 1e3))
def test_a_power_load_below_the_most_that_a_source_can_give(solved, volts, ohms):
    # Maximum power theorem: a source gives at most E^2 / 4R, at half its volts.
    watts = 0.999 * volts**2 / (4 * ohms)
    s = solved(
        rm.Source("V1", "A", "0V", volts=volts, ohms=ohms), rm.Load("L1", "A", "0V", watts=watts)
    )
    assert s.part("L1").watts == pytest.approx(watts, rel=1e-7)
    assert s.volts("A") == pytest.approx(volts / 2 * (1 + np.sqrt(0.001)), rel=1e-5)
    assert s.findings == ()


@settings(max_examples=40)
@given(volts=st.floats(5, 300), ohms=st.floats(0.1, 1e3))
def test_a_power_load_beyond_it_collapses_and_is_named(solved, volts, ohms):
    watts = 1.001 * volts**2 / (4 * ohms)
    s = solved(
        rm.Source("V1", "A", "0V", volts=volts, ohms=ohms), rm.Load("L1", "A", "0V", watts=watts)
    )
    assert s.volts("A") < 0.5
    assert s.part("L1").watts < watts
    assert [(f.kind, f.refs) for f in s.findings] == [("collapsed", ("L1",))]


def test_a_power_load_takes_the_higher_of_its_two_volts(solved):
    s = solved(
        rm.Source("V1", "A", "0V", volts=10, ohms=1),
        rm.Load("L1", "A", "0V", watts=16, collapse_volts=1),
    )
    # 10 v - v^2 = 16: 8 V or 2 V.
    assert s.volts("A") == pytest.approx(8)


def test_a_power_load_returns_when_the_dropper_does(map_of):
    m = map_of(
        rm.Source("V1", "IN", "0V", volts=10), rm.Resistor("R1", "IN", "A", ohms=1),
        rm.Load("L1", "A", "0V", watts=16, collapse_volts=1),
    )  # fmt: skip
    collapsed = rm.solve(m, change=rm.what_if(R1=2.0))
    assert collapsed.volts("A") < 1
    back = with_part(collapsed.network, m.parts["R1"])
    assert solve_network(m, back, collapsed.operating).volts("A") == pytest.approx(8)


@given(amps=st.floats(0.01, 0.09), dropper=st.floats(1, 95))
def test_a_steady_load_behind_a_dropper(solved, amps, dropper):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=10), rm.Resistor("R1", "IN", "A", ohms=dropper),
        rm.Load("L1", "A", "0V", amps=amps),
    )  # fmt: skip
    assert s.volts("A") == pytest.approx(10 - amps * dropper, rel=1e-6)


def test_a_steady_load_collapses_where_the_dropper_cannot_feed_it(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=10), rm.Resistor("R1", "IN", "A", ohms=1000),
        rm.Load("L1", "A", "0V", amps=0.1, collapse_volts=2),
    )  # fmt: skip
    # Below 2 V it is 20 ohms.
    assert s.volts("A") == pytest.approx(10 * 20 / 1020, rel=1e-6)
    assert s.findings[0].refs == ("L1",)


def test_loads_that_nothing_feeds_do_not_drive_anything(map_of, adds_up):
    # A floating supply that only a steady load joins to 0 V: no current can return.
    s = rm.solve(map_of(
        rm.Source("V1", "P", "N", volts=32, ohms=0.02), rm.Load("L1", "0V", "N", amps=0.0014),
        rm.Source("V2", "P", "Q", volts=-5, ohms=0.02),
    ))  # fmt: skip
    adds_up(s)
    assert s.volts("N") == pytest.approx(0, abs=1e-6)
    assert s.volts("P") == pytest.approx(32, rel=1e-6)


def test_a_lamp_behind_a_dropper(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=12.6), rm.Resistor("R1", "IN", "A", ohms=12),
        rm.Load("L1", "A", "0V", amps=0.16, at_volts=11.2, law="lamp"),
    )  # fmt: skip
    v = s.volts("A")
    assert (12.6 - v) / 12 == pytest.approx(0.16 * (v / 11.2) ** 0.55, rel=1e-8)


def test_lamps_in_a_row_share_the_volts(solved):
    lamp = {"amps": 0.3, "at_volts": 6.3, "law": "lamp"}
    s = solved(
        rm.Source("V1", "A", "0V", volts=12.6), rm.Load("L1", "A", "B", **lamp),
        rm.Load("L2", "B", "0V", **lamp),
    )  # fmt: skip
    assert (s.volts("B"), s.part("L1").amps) == pytest.approx((6.3, 0.3))


def test_a_map_that_finds_no_rest_names_parts_and_shows_nothing(map_of):
    # Two converters that make each other's input, the one driving the other under its own feet.
    s = rm.solve(map_of(
        rm.Source("V1", "N4", "0V", volts=72.16),
        rm.Converter("U1", "N1", "N4", "N3", volts=-28.4),
        rm.Converter("U2", "N4", "N1", "0V", volts=22.86, limit_amps=1.0),
    ))  # fmt: skip
    assert (s.status, s.has_figures) == ("not settled", False)
    finding = s.findings[0]
    assert {"U1", "U2"} & set(finding.refs)
    assert finding.sentence.startswith("The voltages around ")
    assert finding.sentence.endswith(" do not settle, so nothing is shown.")
    assert np.isnan(s.volts("N1"))
    assert np.isnan(s.part("U1").watts)


def test_a_search_that_runs_away_is_given_up(map_of):
    # Each converter stands on the other's output; the first steps lead beyond all bounds.
    s = rm.solve(map_of(
        rm.Source("V1", "N2", "0V", volts=37.348587798228166, ohms=4.520967386456114),
        rm.Converter("U1", "N3", "0V", "N0", volts=14.195923987112657, limit_amps=1,
                     efficiency=0.5442260927628166),
        rm.Converter("U2", "N4", "N0", "N2", volts=-41.2639684492108,
                     efficiency=0.9704359109880869),
        rm.Source("V2", "N3", "N0", volts=-3.395083458017542, ohms=1.4066552983816523),
    ))  # fmt: skip
    assert s.status == "solved"
    assert abs(s.volts("N0")) < 100


def test_small_currents_beside_large_ones_are_exact(solved):
    # A zener of no resistance carries 30 mA beside a leak of picoamperes.
    s = solved(
        rm.Source("V1", "IN", "0V", volts=45), rm.Resistor("R1", "IN", "A", ohms=1000),
        rm.Zener("D1", "A", "0V", zener_volts=12.6), rm.Diode("D2", "0V", "A"),
        rm.Resistor("R2", "B", "0V", ohms=1e6), rm.Diode("D3", "B", "A"),
    )  # fmt: skip
    assert s.part("D2").amps == pytest.approx(-12.6e-9, rel=1e-6)
    assert s.part("R2").amps == pytest.approx(12.6e-9 / 1.001, rel=1e-6)


@pytest.mark.parametrize("ohms", [0.0, 5.0])
def test_a_starved_zener_blocks_and_does_not_feed_the_load(ohms):
    """8 V behind 350 ohms and 10 mA leave 4.5 V, too few for a 5 V zener to take anything."""
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=8))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=350))
    m.add(rm.Zener("D1", "A", "0V", zener_volts=5, ohms=ohms))
    m.add(rm.Load("L1", "A", "0V", amps=0.01))
    s = rm.solve(m)
    assert s.volts("A") == pytest.approx(4.5, rel=1e-6)
    assert s.part("D1").amps == pytest.approx(0, abs=1e-8)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_regulator_without_load_holds_its_output(sign):
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=26 * sign, ohms=1))
    m.add(rm.Regulator("U1", "RAW", "A", "0V", volts=12 * sign))
    assert rm.solve(m).volts("A") == pytest.approx(12 * sign, rel=1e-6)
