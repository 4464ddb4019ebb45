"""Slopes of all nodes against all values, set against solutions with the values moved."""

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest

import railmap as rm
from railmap.resources import data_dir
from railmap.solve.many import solve_many
from railmap.solve.turning import solve_turning

sensitivity = import_module("railmap.solve.sensitivity")


def moved(m, solution, ref, part=0.01):
    """Return the slopes by a rise and a fall of a part of the value, node by node."""
    value = solution.network.circuit.parts[ref]
    now = getattr(value, value.main_field)
    up, down = (rm.solve(m, change=rm.what_if({ref: now * f})) for f in (1 + part, 1 - part))
    return {n: (up.volts(n) - down.volts(n)) / (2 * part) for n in solution.nodes}


def with_values(m):
    """Return the parts with a value that anything follows."""
    found = []
    for ref, part in m.parts.items():
        if part.main_field and not isinstance(part, rm.Fuse | rm.Switch) and part.now():
            found.append(ref)
    return found


def close(m, near_part):
    solution = rm.solve(m)
    found = rm.sensitivities(solution)
    for ref in with_values(m):
        for node, slope in moved(m, solution, ref).items():
            near = near_part * max(1.0, abs(solution.volts(node)))
            assert found.of(node, ref) == pytest.approx(slope, abs=near), (node, ref)
    return found


@pytest.mark.parametrize("kinds", ["RO", "ROVD", "ROZM"])
@pytest.mark.parametrize("seed", range(6))
def test_without_a_winding(rail_map, kinds, seed):
    m = next(m for k in range(9) if rm.solve(m := rail_map(10 * seed + k, kinds)).has_figures)
    solution = rm.solve(m)
    found = rm.sensitivities(solution)
    for ref in with_values(m):
        part = solution.network.circuit.parts[ref]
        now = getattr(part, part.main_field)
        up, down = (rm.solve(m, change=rm.what_if({ref: now * f})) for f in (1 + 1e-4, 1 - 1e-4))
        if any(up.operating.modes[k].tolist() != down.operating.modes[k].tolist()
               for k in range(len(up.operating.modes))):  # fmt: skip
            continue  # at the end of a piece there are two slopes
        for node in solution.nodes:
            slope = (up.volts(node) - down.volts(node)) / 2e-4
            near = pytest.approx(slope, abs=1e-4 * max(1.0, abs(solution.volts(node))))
            assert found.of(node, ref) == near, (node, ref)


@pytest.mark.parametrize("name", ["small_receiver", "portable_tape_recorder"])
def test_with_a_winding(name):
    m = rm.load(data_dir("example_boards") / f"{name}.railmap")
    found = close(m, 0.02)
    refs = [ref for ref, part in m.parts.items() if isinstance(part, rm.Winding)]
    assert any(np.abs(found.volts[:, found.refs.index(ref)]).max() > 5 for ref in refs)


def rectifier():
    m = rm.RailMap(mains_hertz=50)
    for part in (
        rm.Winding("T1", "X", "Y", volts_rms=20, ohms=1), rm.Bridge("B1", "X", "Y", "P", "0V"),
        rm.Capacitor("C1", "P", "0V", farads=1e-3), rm.Resistor("R1", "P", "A", ohms=50),
        rm.Resistor("R2", "A", "0V", ohms=150), rm.Link("K1", "A", "B"),
        rm.Load("L1", "B", "0V", amps=0.05, at_volts=18, law="lamp"),
        rm.Load("L2", "P", "0V", ohms=400), rm.Fuse("F1", "P", "0V", ohms=1e5),
    ):  # fmt: skip
        m.add(part)
    return m


def test_signs_with_a_winding():
    found = rm.sensitivities(rm.solve(rectifier()))
    assert found.of("A", "T1") > 0
    assert found.of("A", "R1") < 0 < found.of("P", "R1")
    assert found.of("A", "R2") > 0
    assert found.of("A", "L1") < 0
    assert found.of("A", "B1") < 0
    assert found.of("A", "B1") == pytest.approx(-found.of("A", "T1") * 2 * 0.75 / 26, rel=0.3)
    for ref in ("K1", "F1"):
        assert found.of("A", ref) == 0
    assert found.of("B", "R2") == pytest.approx(found.of("A", "R2"))


def test_what_is_out_has_no_slope():
    s = rm.solve(rectifier(), change=rm.what_if(L1=rm.OPEN, L2=rm.SHORT, F1=rm.OPEN, R1=60))
    found = rm.sensitivities(s)
    assert found.of("P", "L2") == found.of("P", "L1") == 0
    s = rm.solve(rectifier(), change=rm.what_if(L1=rm.OPEN))
    found = rm.sensitivities(s)
    assert found.of("A", "L1") == 0
    assert found.of("A", "R2") > 0


def test_slopes_of_one_of_many_what_ifs():
    m = rectifier()
    many = solve_many(m, [rm.what_if(L1=rm.OPEN), rm.what_if(R1=75)])
    one = many.solution(1)
    assert one is not None
    alone = rm.sensitivities(rm.solve(m, change=rm.what_if(R1=75)))
    assert rm.sensitivities(one).volts == pytest.approx(alone.volts, abs=2e-3)


def test_what_does_not_settle_beside_the_others_is_found_by_itself(monkeypatch):
    """All together come back as not found; each alone is good."""
    m = rectifier()
    expected = rm.sensitivities(rm.solve(m)).volts
    asked = []

    def half(variants, hertz, start=None, care=None):
        state = solve_turning(variants, hertz, start, care)
        asked.append(variants.count)
        if variants.count == 1:
            return state
        wrong = replace(state.turn, node_mean=np.full_like(state.turn.node_mean, 1e9))
        return replace(state, found=np.zeros_like(state.found), turn=wrong)

    monkeypatch.setattr(sensitivity, "solve_turning", half)
    found = rm.sensitivities(rm.solve(m)).volts
    assert asked.count(1) == asked[0]
    assert found == pytest.approx(expected, abs=2e-3)


def test_in_parts(monkeypatch):
    m = rectifier()
    whole = rm.sensitivities(rm.solve(m)).volts
    monkeypatch.setattr(sensitivity, "MOST_BYTES", 1)
    assert rm.sensitivities(rm.solve(m)).volts == pytest.approx(whole, abs=2e-3)


def test_without_a_solution_there_are_none(map_of):
    m = map_of(rm.Source("V1", "A", "0V", volts=1), rm.Source("V2", "A", "0V", volts=2))
    with pytest.raises(rm.MapError, match="no slopes where the map has no solution"):
        rm.sensitivities(rm.solve(m))
    ideal = map_of(
        rm.Winding("T1", "A", "0V", volts_rms=1), rm.Winding("T2", "A", "0V", volts_rms=2)
    )
    with pytest.raises(rm.MapError, match="no slopes where the map has no solution"):
        rm.sensitivities(rm.solve(ideal))


def test_unknown_names(map_of):
    found = rm.sensitivities(rm.solve(map_of(rm.Source("V1", "A", "0V", volts=1))))
    assert found.of("A", "V1") == pytest.approx(1)
    for node, ref in (("B", "V1"), ("A", "V2")):
        with pytest.raises(rm.MapError, match="no node"):
            found.of(node, ref)
