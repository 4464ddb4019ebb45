"""Feed paths and what is fed, on the three-board example and on small maps."""

import pytest

import railmap as rm
from railmap.bench.feeds import NOTHING, feed_of_node, feed_of_part, feed_of_parts
from railmap.resources import data_dir


@pytest.fixture(scope="module")
def recorder():
    return rm.load(data_dir("example_boards") / "portable_tape_recorder.railmap")


def names(text):
    return frozenset(text.split())


# Part: parts on the way, nodes on the way, parts fed, nodes fed.
OF_PARTS = {
    "R101": ("T1A D101 R101", "AC1 P0", "C11 L11 R102 C12 L12 U1 L13", "P1 P2 P3"),
    "R102": ("T1A D101 R101 R102", "AC1 P0 P1", "C12 L12 U1 L13", "P2 P3"),
    "U1": ("T1A D101 R101 R102 U1", "AC1 P0 P1 P2", "L13", "P3"),
    "R103": ("T1A D101 R103", "AC1 P0", "C14 D1 L14", "P4"),
    "R104": ("T1A D101 R104", "AC1 P0", "C15 L15 J1 LP1", "P5 LAMP"),
    "R201": ("T1A D101 R201", "AC1 N0", "C21 L21 R202 C22 L22 R203 C23 L23", "N1 N2 N3"),
    "R203": ("T1A D101 R201 R202 R203", "AC1 N0 N1 N2", "C23 L23", "N3"),
    "L13": ("T1A D101 R101 R102 U1 L13", "AC1 P0 P1 P2 P3", "", ""),
    "C1": ("T1A D101 C1", "AC1 P0", "", ""),
    "D1": ("T1A D101 R103 D1", "AC1 P0 P4", "", ""),
}
OF_NODES = {
    "P3": ("T1A D101 R101 R102 U1", "AC1 P0 P1 P2 P3", "L13", ""),
    "P1": ("T1A D101 R101", "AC1 P0 P1", "C11 L11 R102 C12 L12 U1 L13", "P2 P3"),
    "N2": ("T1A D101 R201 R202", "AC1 N0 N1 N2", "C22 L22 R203 C23 L23", "N3"),
    "LAMP": ("T1A D101 R104 J1", "AC1 P0 P5 LAMP", "LP1", ""),
}


@pytest.mark.parametrize("ref", OF_PARTS)
def test_parts_of_the_recorder(recorder, ref):
    feed = feed_of_part(recorder, ref)
    found = (feed.path_refs, feed.path_nodes, feed.fed_refs, feed.fed_nodes)
    assert found == tuple(names(text) for text in OF_PARTS[ref])


@pytest.mark.parametrize("node", OF_NODES)
def test_rails_of_the_recorder(recorder, node):
    feed = feed_of_node(recorder, node)
    found = (feed.path_refs, feed.path_nodes, feed.fed_refs, feed.fed_nodes)
    assert found == tuple(names(text) for text in OF_NODES[node])


def test_a_winding_feeds_all_that_hangs_on_it(recorder):
    feed = feed_of_part(recorder, "T1A")
    assert feed.path_refs == {"T1A"}
    assert feed.fed_refs == set(recorder.parts) - {"T1A"}


def test_zero_volts_feeds_nothing_and_so_does_what_is_not_there(recorder):
    assert feed_of_node(recorder, "0V") == NOTHING
    assert feed_of_node(recorder, "P9") == NOTHING
    assert feed_of_part(recorder, "R9") == NOTHING


FEEDS = (
    rm.Source("V1", "A0", "0V", volts=20), rm.Resistor("R1", "A0", "A1", ohms=1),
    rm.Load("L1", "A1", "0V", amps=1), rm.Source("V2", "0V", "B0", volts=20),
    rm.Resistor("R2", "B0", "B1", ohms=1), rm.Load("L2", "B1", "0V", amps=1),
)  # fmt: skip


@pytest.mark.parametrize(
    "between",
    [rm.Load("X", "A1", "B1", amps=1), rm.Capacitor("X", "A1", "B1", farads=1e-6)],
    ids=["load", "capacitor"],
)
def test_what_lies_between_two_rails_feeds_neither(map_of, between):
    m = map_of(*FEEDS, between)
    feed = feed_of_part(m, "R1")
    assert (feed.path_refs, feed.fed_refs, feed.fed_nodes) == ({"V1", "R1"}, {"L1"}, {"A1"})
    assert feed_of_node(m, "B1").path_refs == {"V2", "R2"}
    assert feed_of_part(m, "X").fed_refs == frozenset()


def test_two_ways_to_a_rail_feed_it_each_but_not_alone(map_of):
    m = map_of(*FEEDS, rm.Resistor("R3", "B0", "A1", ohms=1))
    assert feed_of_part(m, "R1").fed_refs == frozenset()
    assert feed_of_node(m, "A1").fed_refs == {"L1"}


def test_the_shorter_way_is_shown(map_of):
    m = map_of(*FEEDS, rm.Resistor("R3", "A1", "A2", ohms=1), rm.Resistor("R4", "A0", "A2", ohms=1))
    assert feed_of_node(m, "A2").path_refs == {"V1", "R4"}


def test_what_nothing_feeds(map_of):
    m = map_of(*FEEDS, rm.Resistor("R3", "X", "Y", ohms=1), rm.Load("L3", "Y", "0V", amps=1))
    feed = feed_of_part(m, "R3")
    assert (feed.path_refs, feed.fed_refs, feed.fed_nodes) == ({"R3"}, {"L3"}, {"X", "Y"})


def test_a_part_on_zero_volts_alone(map_of):
    m = map_of(*FEEDS, rm.Resistor("R3", "0V", "0V", ohms=1))
    feed = feed_of_part(m, "R3")
    assert (feed.path_refs, feed.fed_refs) == ({"R3"}, frozenset())
    assert "R3" not in feed_of_part(m, "V1").fed_refs


@pytest.fixture(scope="module")
def map_of():
    def build(*parts):
        m = rm.RailMap()
        for part in parts:
            m.add(part)
        return m

    return build


def test_several_parts_are_taken_together(recorder):
    """The path of each, and what hangs on them all, which may be more than on any of them."""
    apart = [feed_of_part(recorder, ref) for ref in ("R102", "R203")]
    both = feed_of_parts(recorder, ["R102", "R203", "R102"])
    assert both.path_refs == apart[0].path_refs | apart[1].path_refs
    assert both.path_nodes == apart[0].path_nodes | apart[1].path_nodes
    assert both.fed_refs == (apart[0].fed_refs | apart[1].fed_refs) - both.path_refs
    all_droppers = [f"R10{n}" for n in (1, 3, 4)]
    assert feed_of_parts(recorder, all_droppers).fed_refs >= names("C11 L11 U1 C14 D1 L14 J1 LP1")
    whole = feed_of_parts(recorder, recorder.parts)
    assert whole.path_refs == set(recorder.parts)
    assert feed_of_parts(recorder, ["T1A", "R101"]).fed_refs == set(recorder.parts) - (
        names("T1A D101 R101")
    )
    assert feed_of_parts(recorder, []) == feed_of_parts(recorder, ["NONE"]) == NOTHING


def test_two_parts_side_by_side_feed_together():
    m = rm.RailMap()
    for part in (
        rm.Source("V1", "RAW", "0V", volts=9),
        rm.Resistor("R1", "RAW", "A", ohms=1),
        rm.Resistor("R2", "RAW", "A", ohms=1),
        rm.Capacitor("C1", "A", "B", farads=1e-6),
        rm.Load("L1", "A", "0V", amps=0.1),
        rm.Resistor("R9", "B", "0V", ohms=1),
    ):
        m.add(part)
    assert feed_of_parts(m, ["R1", "R2"]).fed_refs == {"L1"}
    # A capacitor is no way for what lies behind it, though it may be one of those selected.
    assert feed_of_parts(m, ["C1", "R9"]).path_refs == {"V1", "R1", "C1", "R9"}
