"""The equations of a network by themselves: how they are filled, solved, and left unsolved."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import railmap as rm
from railmap.solve import equations
from railmap.solve.assemble import assemble
from railmap.solve.equations import Equations, Point
from railmap.solve.what_if import carry_out, what_if


@pytest.fixture(params=[1, 10**6], ids=["sparse", "dense"])
def both_ways(request, monkeypatch):
    monkeypatch.setattr(equations, "SPARSE_FROM", request.param)
    monkeypatch.setattr(equations, "MANY_COLUMNS", 0.1)


def equations_of(m):
    return Equations(assemble(carry_out(m, what_if())))


@pytest.fixture
def mixed(map_of):
    return equations_of(map_of(
        rm.Source("V1", "IN", "0V", volts=20, ohms=2), rm.Resistor("R1", "IN", "A", ohms=100),
        rm.Load("L1", "A", "0V", amps=0.03, at_volts=9, law="lamp"),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=5, quiescent_amps=0.005),
        rm.Link("J1", "OUT", "OUT2"), rm.Source("V2", "OUT3", "OUT2", volts=1.5),
        rm.Load("L2", "OUT3", "0V", amps=0.01), rm.Load("L3", "OUT", "0V", ohms=500),
    ))  # fmt: skip


def first_modes(one):
    return [np.full(len(f.pins), f.first_mode) for f in one.families]


unknowns = st.lists(st.floats(-20, 20), min_size=3, max_size=3).map(np.array)


def test_nodes_from_groups(mixed):
    nodes = mixed.network.topology.nodes
    assert mixed.free == 3
    unknown = np.array([1.0, 2.0, 3.0])
    v = dict(zip(nodes, mixed.volts(unknown).tolist(), strict=True))
    assert v["0V"] == 0.0
    assert v["OUT"] == v["OUT2"]
    assert v["OUT3"] - v["OUT"] == pytest.approx(1.5)
    assert unknown == pytest.approx(
        mixed.volts(unknown)[mixed.pattern.first_node] - mixed.offset[mixed.pattern.first_node]
    )


def test_slopes_are_those_of_the_sums(mixed, both_ways):
    """The solver undoes what a small change of the group volts does to the sums."""
    modes, at = first_modes(mixed), np.array([19.0, 9.0, 4.9])
    point = mixed.evaluate(mixed.volts(at), modes)
    solve = mixed.solver(point.slopes)
    for k in range(mixed.free):
        step = np.zeros(mixed.free)
        step[k] = 1e-6
        over, under = (
            mixed.evaluate(mixed.volts(at + s), modes).residual for s in (step, -step)
        )  # fmt: skip
        assert solve((over - under) / 2) == pytest.approx(step, rel=1e-5, abs=1e-9)


@given(at=unknowns)
def test_what_is_put_into_the_references_is_what_is_left(map_of, at):
    one = equations_of(map_of(
        rm.Source("V1", "A", "0V", volts=20, ohms=2), rm.Resistor("R1", "A", "B", ohms=100),
        rm.Diode("D1", "B", "C"), rm.Load("L1", "C", "0V", amps=0.01),
    ))  # fmt: skip
    point = one.evaluate(one.volts(at), first_modes(one))
    assert np.sum(point.amps) == pytest.approx(0, abs=1e-12)
    assert point.residual == pytest.approx(one.sums(point.amps))


def test_loads_can_be_left_out(mixed):
    v, modes = mixed.volts(np.array([19.0, 9.0, 5.0])), first_modes(mixed)
    with_loads, without = (mixed.evaluate(v, modes, loads) for loads in (True, False))
    assert np.any(with_loads.amps != without.amps)
    drawn = [np.full(f.pins.size, f.draws) for f in mixed.families]
    assert np.all(without.amps[np.concatenate(drawn)] == 0)


def test_a_change_along_the_slopes(mixed):
    modes, at = first_modes(mixed), np.array([19.0, 9.0, 4.9])
    shift = np.array([1e-7, -2e-7, 3e-7])
    here, there = (mixed.evaluate(mixed.volts(at + s), modes) for s in (0 * shift, shift))
    moved = mixed.along(here.slopes, shift)
    assert moved == pytest.approx(there.amps - here.amps, rel=1e-4, abs=1e-12)


def test_what_all_nodes_share_moves_nothing(map_of):
    one = equations_of(map_of(
        rm.Zener("D1", "A", "B", zener_volts=5), rm.Resistor("R1", "A", "B", ohms=1e-3),
        rm.Diode("D2", "A", "0V"),
    ))  # fmt: skip
    slopes = one.evaluate(one.volts(np.zeros(one.free)), first_modes(one)).slopes
    moved = one.along(slopes, np.full(one.free, 0.859))
    inside = np.flatnonzero(np.abs(moved) > 0)
    assert set(np.concatenate([f.slots.ravel() for f in one.families])[inside]) == {4, 5}


def test_slopes_that_decide_nothing_are_refused(mixed, both_ways):
    nothing = np.zeros(len(mixed.pattern.entry_pin))
    with pytest.raises(np.linalg.LinAlgError):
        mixed.solver(nothing)(np.ones(mixed.free))
    # Held to where it is, it has an answer again.
    assert mixed.solver(nothing, 2.0)(np.ones(mixed.free)) == pytest.approx([0.5] * mixed.free)


def test_currents_that_no_volts_can_mend_stay_as_they_are(mixed, both_ways):
    amps = np.arange(float(len(mixed.pattern.pin_group)))
    point = Point(amps, np.zeros(len(mixed.pattern.entry_pin)), mixed.sums(amps), amps[:3])
    found, shift = mixed.refined(point)
    assert np.array_equal(found, amps)
    assert not shift.any()


def test_refined_currents_add_up(mixed, both_ways):
    modes, at = first_modes(mixed), np.array([19.0, 9.0, 4.9])
    point = mixed.evaluate(mixed.volts(at), modes)
    amps, shift = mixed.refined(point)
    assert np.all(np.abs(mixed.sums(amps)) <= 1e-13 * mixed.sums(np.abs(amps)))
    assert amps == pytest.approx(point.amps + mixed.along(point.slopes, shift), abs=1e-9)


def test_how_far_volts_can_go(map_of):
    one = equations_of(map_of(
        rm.Source("V1", "A", "0V", volts=-20), rm.Source("V2", "B", "A", volts=10, ohms=1),
        rm.Converter("U1", "A", "C", "B", volts=-5), rm.Resistor("R1", "C", "0V", ohms=1),
    ))  # fmt: skip
    assert one.reach == pytest.approx(35, rel=0.05)
    assert one.within_reach(np.array([0.0, -20, -10, 15]))
    assert not one.within_reach(np.array([0.0, -20, -10, 40]))


def test_where_a_circuit_may_rest_in_more_than_one_way(map_of):
    feed = (rm.Source("V1", "A", "0V", volts=20, ohms=1), rm.Load("L1", "A", "0V", amps=0.1))
    assert equations_of(map_of(*feed, rm.Diode("D1", "A", "0V"))).single_valued
    for part in (
        rm.Load("L2", "A", "0V", watts=1), rm.Converter("U1", "A", "B", "0V", volts=5),
        rm.PassTransistor("Q1", "A", "A", "B"),
    ):  # fmt: skip
        assert not equations_of(map_of(*feed, part)).single_valued


def test_a_node_held_to_where_it_began(mixed):
    point = mixed.evaluate(mixed.volts(np.array([19.0, 9.0, 4.9])), first_modes(mixed))
    assert point.held(0.0, np.ones(3)) is point
    held = point.held(2.0, np.array([1.0, 0.0, -1.0]))
    assert held.residual - point.residual == pytest.approx([2.0, 0.0, -2.0])
    assert np.all(held.noise > point.noise)
    assert not point.met


def test_many_answers_at_once():
    """With nearly as many answers as unknowns a full matrix is taken; the answers stay the same."""
    m = rm.RailMap()
    m.add(rm.Source("V1", "N0", "0V", volts=100, ohms=1))
    rungs = equations.SPARSE_FROM
    for i in range(rungs):
        m.add(rm.Resistor(f"RA{i}", f"N{i}", f"N{i + 1}", ohms=10))
        m.add(rm.Resistor(f"RB{i}", f"N{i + 1}", "0V", ohms=1e4))
    one = equations_of(m)
    slopes = one.evaluate(one.volts(np.zeros(one.free)), first_modes(one)).slopes
    put = np.eye(one.free)
    assert one.solver(slopes, columns=one.free)(put) == pytest.approx(one.solver(slopes)(put))
