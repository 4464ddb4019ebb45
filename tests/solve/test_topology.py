"""Groups of nodes, ideal sources and links, loops of them, and what has no path to 0 V."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import railmap as rm
from railmap.solve.topology import ContradictionError, Tie, build_topology


def link(ref, plus, minus):
    return Tie(ref, plus, minus, is_source=False)


def source(ref, plus, minus, volts=1.0):
    return Tie(ref, plus, minus, is_source=True, volts=volts)


def groups(topology):
    """Return the sets of nodes that are one unknown or one reference."""
    named = {}
    for node, group in zip(topology.nodes, topology.group.tolist(), strict=True):
        named.setdefault(group, set()).add(node)
    return named


def offsets(topology):
    volts = np.array([tie.volts for tie in topology.ties])
    return dict(zip(topology.nodes, (topology.offset_map @ volts).tolist(), strict=True))


def test_without_ties_every_node_is_a_group():
    topology = build_topology([("R1", ("A", "B")), ("R2", ("B", "0V"))], [])
    assert topology.nodes == ["0V", "A", "B"]
    assert (topology.free, topology.groups) == (2, 3)
    assert groups(topology)[2] == {"0V"}


def test_a_part_with_three_pins_joins_its_nodes():
    topology = build_topology([("U1", ("IN", "OUT", "0V"))], [])
    assert not topology.island.any()


def test_links_make_one_node_of_two():
    topology = build_topology([("R1", ("A", "0V"))], [link("J1", "A", "B"), link("J2", "B", "C")])
    assert groups(topology) == {0: {"A", "B", "C"}, 1: {"0V"}}
    assert set(offsets(topology).values()) == {0.0}


def test_a_link_to_zero_volts_leaves_nothing_to_find():
    topology = build_topology([("R1", ("A", "0V"))], [link("J1", "0V", "A")])
    assert topology.free == 0


def test_ideal_sources_in_a_tree_add_up():
    ties = [
        source("V1", "A", "0V", 12.0), source("V2", "B", "A", 5.0), source("V3", "0V", "C", 9.0),
        source("V4", "D", "B", -2.0), link("J1", "D", "E"),
    ]  # fmt: skip
    topology = build_topology([("R1", ("B", "C"))], ties)
    assert topology.free == 0
    assert offsets(topology) == {"0V": 0, "A": 12, "B": 17, "C": -9, "D": 15, "E": 15}


def test_a_group_that_floats_keeps_its_differences():
    topology = build_topology([("R1", ("A", "0V"))], [source("V1", "B", "A", 5.0)])
    assert topology.free == 1
    assert topology.group[topology.index["A"]] == topology.group[topology.index["B"]]
    assert offsets(topology)["B"] - offsets(topology)["A"] == 5.0


LOOPS = {
    "two sources side by side": (
        [source("V1", "A", "0V"), source("V2", "A", "0V")],
        {"V1", "V2"},
    ),
    "three in a ring": (
        [source("V1", "A", "0V"), source("V2", "B", "A"), source("V3", "B", "0V")],
        {"V1", "V2", "V3"},
    ),
    "a source shorted by a link": (
        [link("J1", "A", "0V"), source("V1", "A", "0V")],
        {"J1", "V1"},
    ),
    "a link that comes later": (
        [source("V1", "A", "0V"), link("J1", "A", "B"), link("J2", "B", "0V")],
        {"V1", "J1", "J2"},
    ),
    "other parts stay out of it": (
        [
            source("V0", "Z", "0V"), link("J0", "A", "X"), source("V1", "A", "0V"),
            source("V9", "Y", "A"), link("J1", "A", "B"), source("V2", "B", "0V"),
        ],
        {"V1", "J1", "V2"},
    ),
    "both ends on one node": ([source("V1", "A", "A")], {"V1"}),
}  # fmt: skip


@pytest.mark.parametrize("name", LOOPS)
def test_a_contradiction_names_the_parts_of_its_loop(name):
    ties, refs = LOOPS[name]
    with pytest.raises(ContradictionError) as caught:
        build_topology([("R1", ("A", "0V"))], ties)
    assert set(caught.value.refs) == refs
    assert len(caught.value.refs) == len(refs)


def test_islands_are_numbered_and_have_a_reference_of_their_own():
    pins = [
        ("R1", ("A", "0V")), ("R2", ("P", "Q")), ("R3", ("Q", "S")), ("R4", ("X", "Y")),
    ]  # fmt: skip
    topology = build_topology(pins, [source("V1", "S", "T", 3.0)])
    island = dict(zip(topology.nodes, topology.island.tolist(), strict=True))
    assert island["0V"] == island["A"] == 0
    assert island["P"] == island["Q"] == island["S"] == island["T"]
    assert island["X"] == island["Y"]
    assert {island["P"], island["X"]} == {1, 2}
    # The busiest node of each island is held; the others, and A, are to be found.
    assert topology.groups - topology.free == 3
    assert topology.group[topology.index["Q"]] >= topology.free


def test_nodes_of_islands_are_counted_from_their_reference():
    topology = build_topology([], [source("V1", "P", "Q", 3.0), source("V2", "Q", "S", 4.0)])
    assert offsets(topology) == {"0V": 0, "P": 3, "Q": 0, "S": -4}


def test_only_zero_volts():
    topology = build_topology([], [])
    assert (topology.nodes, topology.free, topology.groups) == (["0V"], 0, 1)
    assert topology.tie_current_map.shape == (0, 1)


def through(*ties, put):
    """Return the current of each tie, from the current put into each node."""
    topology = build_topology([], list(ties))
    into = np.array([put.get(node, 0.0) for node in topology.nodes])
    return dict(zip([t.ref for t in ties], topology.tie_current_map @ into, strict=True))


def test_current_of_ties_in_a_row():
    amps = through(
        source("V1", "A", "0V"), link("J1", "A", "B"), put={"A": 2.0, "B": 1.0, "0V": -3.0}
    )
    assert amps["J1"] == pytest.approx(-1.0)
    assert amps["V1"] == pytest.approx(3.0)


@given(ways=st.integers(2, 6), amps=st.floats(-10, 10))
def test_links_side_by_side_share_alike(ways, amps):
    ties = [link(f"J{i}", "A", "0V") for i in range(ways)]
    found = through(*ties, put={"A": amps, "0V": -amps})
    assert list(found.values()) == pytest.approx([amps / ways] * ways)


def test_links_in_a_loop_share_as_equal_resistances_would(solved):
    ends = [("A", "B"), ("B", "C"), ("C", "D"), ("D", "A"), ("A", "C"), ("D", "0V")]
    rest = [
        rm.Source("V1", "RAW", "0V", volts=10, ohms=1),
        rm.Resistor("R1", "RAW", "A", ohms=4),
        rm.Resistor("R2", "B", "0V", ohms=100),
        rm.Resistor("R3", "C", "0V", ohms=3),
    ]
    ideal = solved(*rest, *(rm.Link(f"J{i}", *pair) for i, pair in enumerate(ends)))
    small = solved(*rest, *(rm.Link(f"J{i}", *pair, ohms=1e-5) for i, pair in enumerate(ends)))
    for i in range(len(ends)):
        assert ideal.part(f"J{i}").amps == pytest.approx(small.part(f"J{i}").amps, abs=1e-4)


def test_a_loop_is_refused_with_its_parts_and_without_figures(map_of):
    s = rm.solve(map_of(
        rm.Source("V1", "A", "0V", volts=12), rm.Resistor("R1", "A", "0V", ohms=100),
        rm.Source("V2", "B", "0V", volts=5), rm.Link("J1", "A", "B"),
    ))  # fmt: skip
    assert s.status == "contradiction"
    assert set(s.findings[0].refs) == {"V1", "V2", "J1"}
    assert np.isnan(s.volts("A"))
    assert np.isnan(s.part("R1").amps)


def test_a_resistance_in_the_loop_is_enough(solved):
    s = solved(
        rm.Source("V1", "A", "0V", volts=12), rm.Source("V2", "B", "0V", volts=5),
        rm.Link("J1", "A", "B", ohms=0.1),
    )  # fmt: skip
    assert s.part("J1").amps == pytest.approx(70.0)


def test_what_hangs_in_the_air_is_named_and_the_rest_is_solved(map_of):
    s = rm.solve(map_of(
        rm.Source("V1", "A", "0V", volts=12), rm.Resistor("R1", "A", "0V", ohms=100),
        rm.Source("V2", "P", "Q", volts=9), rm.Resistor("R2", "P", "Q", ohms=90),
    ))  # fmt: skip
    assert s.status == "partly solved"
    assert (s.findings[0].refs, set(s.findings[0].nodes)) == (("V2", "R2"), {"P", "Q"})
    assert s.part("R1").amps == pytest.approx(0.12)
    # Inside the island differences are known, against 0 V nothing is.
    assert s.part("R2").amps == pytest.approx(0.1)
    assert s.volts("P", "Q") == pytest.approx(9.0)
    assert np.isnan(s.volts("P"))
    assert np.isnan(s.volts("P", "A"))
    assert np.isnan(s.part("R2").pin_volts["a"])


def test_current_that_leaks_from_island_to_island_is_none(map_of):
    s = rm.solve(map_of(
        rm.Source("V1", "P", "Q", volts=9), rm.Source("V2", "S", "Q", volts=5, ohms=1),
        rm.Resistor("R1", "P", "S", ohms=1), rm.Resistor("R2", "X", "Y", ohms=1),
    ))  # fmt: skip
    assert s.part("R1").amps == pytest.approx(2.0)
    assert s.part("R2").amps == 0.0
