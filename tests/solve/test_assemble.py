"""From circuits to arrays: every kind, and a change of numbers against assembling anew."""

import numpy as np
import pytest

import railmap as rm
from railmap.errors import NotYetError
from railmap.solve import laws
from railmap.solve.assemble import assemble, with_part
from railmap.solve.nodal import operate
from railmap.solve.what_if import carry_out, what_if

FEED = (
    rm.Source("V0", "IN", "0V", volts=24, ohms=1),
    rm.Source("V9", "MID", "0V", volts=9, ohms=2),
    rm.Resistor("R8", "OUT", "0V", ohms=220),
    rm.Resistor("R9", "MID", "OUT", ohms=1000),
)

CHANGES = {
    "source": (rm.Source("X", "IN", "0V", volts=12, ohms=1), {"volts": 15.0, "ohms": 2.0}),
    "source that follows the mains": (
        rm.Source("X", "IN", "0V", volts=12, ohms=1, follows_mains=True),
        {"volts": 15.0},
    ),
    "diode": (rm.Diode("X", "IN", "OUT"), {"forward_volts": 0.3, "ohms": 0.2}),
    "bridge": (rm.Bridge("X", "IN", "0V", "OUT", "MID"), {"forward_volts": 0.4}),
    "resistor": (rm.Resistor("X", "IN", "OUT", ohms=150), {"ohms": 236.0}),
    "capacitor": (
        rm.Capacitor("X", "IN", "0V", farads=1e-3, leak_ohms=1e5),
        {"leak_ohms": 1e3, "farads": 2e-3},
    ),
    "capacitor without leak": (rm.Capacitor("X", "IN", "0V", farads=1e-3), {"farads": 2e-3}),
    "choke": (rm.Choke("X", "IN", "OUT", henries=5, ohms=100), {"ohms": 50.0}),
    "steady load": (rm.Load("X", "OUT", "0V", amps=0.01), {"amps": 0.02, "collapse_volts": 1.0}),
    "resistive load": (rm.Load("X", "OUT", "0V", ohms=470), {"ohms": 330.0}),
    "resistive load by amps": (
        rm.Load("X", "OUT", "0V", amps=0.02, at_volts=10, law="resistive"),
        {"at_volts": 12.0},
    ),
    "resistive load by watts": (
        rm.Load("X", "OUT", "0V", watts=0.2, at_volts=10, law="resistive"),
        {"watts": 0.3},
    ),
    "power load": (rm.Load("X", "IN", "0V", watts=2), {"watts": 3.0}),
    "power load by amps": (
        rm.Load("X", "IN", "0V", amps=0.1, at_volts=20, law="power"),
        {"amps": 0.2},
    ),
    "power load by ohms": (
        rm.Load("X", "IN", "0V", ohms=200, at_volts=20, law="power"),
        {"ohms": 150.0},
    ),
    "lamp": (
        rm.Load("X", "OUT", "0V", amps=0.02, at_volts=12, law="lamp"),
        {"amps": 0.03, "at_volts": 6.0},
    ),
    "steady load by watts": (
        rm.Load("X", "OUT", "0V", watts=0.1, at_volts=10, law="steady"),
        {"watts": 0.2},
    ),
    "steady load by ohms": (
        rm.Load("X", "OUT", "0V", ohms=1000, at_volts=10, law="steady"),
        {"ohms": 500.0},
    ),
    "zener": (rm.Zener("X", "OUT", "0V", zener_volts=5.1, ohms=5), {"zener_volts": 3.3}),
    "regulator": (
        rm.Regulator("X", "IN", "OUT", "0V", volts=5, quiescent_amps=0.005),
        {"volts": 8.0, "quiescent_amps": 0.002, "limit_amps": 0.01},
    ),
    "converter": (
        rm.Converter("X", "IN", "OUT", "0V", volts=5),
        {"volts": 3.3, "efficiency": 0.7, "limit_amps": 2.0},
    ),
    "transistor": (
        rm.PassTransistor("X", "IN", "MID", "OUT", gain=50),
        {"gain": 200.0, "forward_volts": 0.6, "ohms": 0.1},
    ),
    "link": (rm.Link("X", "IN", "OUT", ohms=0.1), {"ohms": 0.2}),
    "switch": (rm.Switch("X", "IN", "OUT", ohms=0.1), {"ohms": 0.3}),
    "open switch": (rm.Switch("X", "IN", "OUT", closed=False), {"ohms": 0.3}),
    "fuse": (rm.Fuse("X", "IN", "OUT", ohms=0.1), {"ohms": 0.2}),
}  # fmt: skip


def network(*parts, change=None):
    m = rm.RailMap(mains_volts=200)
    for part in parts:
        m.add(part)
    return assemble(carry_out(m, change or what_if(mains_volts=220)))


def same(one, other):
    """See that two networks are the same arrays."""
    assert one.refs == other.refs
    assert one.circuit.parts == other.circuit.parts
    assert np.array_equal(one.slot_node, other.slot_node)
    assert np.array_equal(one.emf, other.emf)
    assert [type(f) for f in one.families] == [type(f) for f in other.families]
    for mine, theirs in zip(one.families, other.families, strict=True):
        for name, values in vars(mine).items():
            assert np.array_equal(values, getattr(theirs, name)), name


@pytest.mark.parametrize("name", CHANGES)
def test_new_numbers_are_as_if_assembled_anew(name):
    part, fields = CHANGES[name]
    before, changed = network(*FEED, part), part.changed(**fields)
    after, anew = with_part(before, changed), network(*FEED, changed)
    assert after is not None
    same(after, anew)
    settled = operate(after, operate(before))
    assert settled.settled
    assert settled.node_volts == pytest.approx(operate(anew).node_volts, rel=1e-9, abs=1e-9)
    same(before, network(*FEED, part))
    # It also shares what no number changes.
    assert after.topology is before.topology
    assert after.pattern is before.pattern


@pytest.mark.parametrize("name", CHANGES)
def test_every_kind_can_be_open_and_short(name):
    part, _ = CHANGES[name]
    gone = network(*FEED, part, change=what_if(X=rm.OPEN))
    assert np.array_equal(gone.families[0].pins, network(*FEED).families[0].pins)
    assert "X" not in gone.conducting
    ends = part.ends
    joined = network(*FEED, part, change=what_if(X=rm.SHORT))
    nodes = [joined.topology.index[getattr(part, end)] for end in ends]
    assert joined.topology.group[nodes[0]] == joined.topology.group[nodes[1]]
    assert "X" in joined.conducting


def test_a_faulty_part_takes_new_numbers_without_effect():
    part = rm.Resistor("X", "IN", "OUT", ohms=150)
    before = network(*FEED, part, change=what_if(X=rm.OPEN))
    after = with_part(before, part.changed(ohms=236))
    assert after is not None
    same(after, network(*FEED, part.changed(ohms=236), change=what_if(X=rm.OPEN)))


STRUCTURE = {
    "another kind": (rm.Resistor("X", "IN", "OUT", ohms=1), rm.Link("X", "IN", "OUT", ohms=1)),
    "another node": (
        rm.Resistor("X", "IN", "OUT", ohms=1),
        rm.Resistor("X", "IN", "MID", ohms=1),
    ),
    "a resistance that goes": (
        rm.Link("X", "IN", "OUT", ohms=0.1),
        rm.Link("X", "IN", "OUT"),
    ),
    "a resistance that comes": (
        rm.Source("X", "P", "0V", volts=5),
        rm.Source("X", "P", "0V", volts=5, ohms=1),
    ),
    "volts of an ideal source": (
        rm.Source("X", "P", "0V", volts=5),
        rm.Source("X", "P", "0V", volts=6),
    ),
    "a switch that opens": (
        rm.Switch("X", "IN", "OUT", ohms=0.1),
        rm.Switch("X", "IN", "OUT", ohms=0.1, closed=False),
    ),
    "a leak that comes": (
        rm.Capacitor("X", "IN", "OUT", farads=1e-6),
        rm.Capacitor("X", "IN", "OUT", farads=1e-6, leak_ohms=1e5),
    ),
    "another law": (
        rm.Load("X", "OUT", "0V", amps=0.01),
        rm.Load("X", "OUT", "0V", amps=0.01, at_volts=9, law="lamp"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STRUCTURE)
def test_more_than_new_numbers_is_refused(name):
    before, after = STRUCTURE[name]
    assert with_part(network(*FEED, before), after) is None


def test_windings_have_no_direct_current_law():
    with pytest.raises(NotYetError, match=r"^T1: .*winding"):
        network(*FEED, rm.Winding("T1", "IN", "0V", volts_rms=12, ohms=1))


@pytest.mark.parametrize(
    ("part", "amps"),
    [
        (rm.Load("X", "IN", "0V", amps=0.1), 0.1),
        (rm.Load("X", "IN", "0V", watts=2, at_volts=20, law="steady"), 0.1),
        (rm.Load("X", "IN", "0V", ohms=200, at_volts=20, law="steady"), 0.1),
        (rm.Load("X", "IN", "0V", amps=0.1, at_volts=20, law="resistive"), 0.12),
        (rm.Load("X", "IN", "0V", watts=2, at_volts=20, law="resistive"), 0.12),
        (rm.Load("X", "IN", "0V", ohms=200), 0.12),
        (rm.Load("X", "IN", "0V", amps=0.1, at_volts=20, law="power"), 2 / 24),
        (rm.Load("X", "IN", "0V", ohms=200, at_volts=20, law="power"), 2 / 24),
        (rm.Load("X", "IN", "0V", watts=2), 2 / 24),
        (rm.Load("X", "IN", "0V", amps=0.1, at_volts=20, law="lamp"), 0.1 * 1.2**0.55),
        (rm.Load("X", "IN", "0V", watts=2, at_volts=20, law="lamp"), 0.1 * 1.2**0.55),
        (rm.Load("X", "IN", "0V", ohms=200, at_volts=20, law="lamp"), 0.1 * 1.2**0.55),
    ],
)
def test_a_load_however_it_is_given(solved, part, amps):
    s = solved(rm.Source("V1", "IN", "0V", volts=24), part)
    assert s.part("X").amps == pytest.approx(amps, rel=1e-8)


def test_volts_below_which_a_load_lets_go():
    parts = [
        rm.Load("L1", "IN", "0V", amps=0.1),
        rm.Load("L2", "IN", "0V", amps=0.1, collapse_volts=3),
        rm.Load("L3", "IN", "0V", watts=1),
        rm.Load("L4", "IN", "0V", amps=0.1, at_volts=20, law="power"),
        rm.Load("L5", "IN", "0V", watts=1, collapse_volts=7),
    ]
    families = network(*FEED, *parts).families
    steady, power = (
        next(f for f in families if isinstance(f, kind))
        for kind in (laws.SteadyLoads, laws.PowerLoads)
    )
    # A half volt, and half of the volts, are common practice, no source.
    assert steady.collapse_volts.tolist() == [0.5, 3]
    assert power.collapse_volts.tolist() == [0.5, 10, 7]


def test_a_zener_has_its_volts_at_its_test_current(solved):
    s = solved(
        rm.Source("V1", "IN", "0V", volts=20),
        rm.Resistor("R1", "IN", "OUT", ohms=(20 - 5.1) / 0.049),
        rm.Zener("D1", "OUT", "0V", zener_volts=5.1, ohms=7, test_amps=0.049),
    )
    assert s.volts("OUT") == pytest.approx(5.1, rel=1e-6)


def test_a_bridge_has_its_rows_in_the_order_they_are_changed():
    parts = [rm.Bridge(f"D{i}", "IN", "0V", "OUT", "MID", forward_volts=0.7) for i in (1, 2)]
    before = network(*FEED, *parts)
    after = with_part(before, parts[1].changed(forward_volts=1.1))
    assert after is not None
    volts = next(f for f in after.families if isinstance(f, laws.Junctions)).forward_volts
    assert volts.tolist() == [0.7] * 4 + [1.1] * 4


def test_parts_that_conduct_and_ends_that_hang():
    found = network(
        *FEED, rm.Capacitor("C1", "IN", "NOWHERE", farads=1e-6), rm.Link("J1", "OUT", "0V"),
        rm.Switch("S1", "IN", "0V", closed=False),
    )  # fmt: skip
    assert found.conducting == {"V0", "V9", "R8", "R9", "J1"}
    assert found.loose_ends == [("C1", ("NOWHERE",))]


def test_an_empty_map():
    found = network()
    assert (found.refs, found.topology.nodes) == ([], ["0V"])
    assert operate(found).settled
