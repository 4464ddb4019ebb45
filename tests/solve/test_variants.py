"""Many what-ifs under one structure: which rows there are, and what hangs together in each."""

from importlib import import_module

import numpy as np
import pytest

import railmap as rm
from railmap.solve.forms import TIGHT_SIEMENS
from railmap.solve.islands import Contradictions, islands
from railmap.solve.laws import OFF_SIEMENS, Conductors, Junctions
from railmap.solve.nodal import operate
from railmap.solve.topology import build_topology
from railmap.solve.variants import build_variants
from railmap.solve.what_if import CalmMap, carry_out


@pytest.fixture
def m():
    m = rm.RailMap(mains_volts=200)
    m.add_board("Rear", 50, 50)
    for part in (
        rm.Source("V1", "RAW", "0V", volts=20, follows_mains=True),
        rm.Link("K1", "RAW", "A"), rm.Resistor("R1", "A", "B", ohms=100),
        rm.Diode("D1", "B", "C", ohms=0.5), rm.Capacitor("C1", "C", "0V", farads=1e-3),
        rm.Resistor("R2", "C", "0V", ohms=300), rm.Load("L1", "B", "0V", amps=0.01),
        rm.Winding("T1", "X", "Y", volts_rms=12), rm.Resistor("R3", "X", "Y", ohms=50),
        rm.Choke("L9", "C", "E", henries=2), rm.Resistor("R4", "E", "0V", ohms=900),
    ):  # fmt: skip
        m.add(part)
    return m


@pytest.fixture
def variants(m):
    """Build what-ifs under one structure, the map without any first."""

    def build(*changes, moving=True):
        calm = CalmMap(m)
        everything = [rm.what_if(), *changes]
        if not moving:
            everything = [rm.what_if({**c.parts, "T1": rm.OPEN}) for c in everything]
        return build_variants([calm.under(c) for c in everything], moving)

    return build


def rows_of(variants, ref):
    """Return family, siemens by what-if and whether it is there, of each row of a part."""
    found = []
    for family, row in variants.places[ref]:
        rows = variants.families[family]
        name = "forward_siemens" if isinstance(rows, Junctions) else "siemens"
        siemens = getattr(rows, name)[:, row].tolist()
        found.append((type(rows), siemens, variants.there[family][:, row].tolist()))
    return found


def test_numbers_alone(variants):
    v = variants(rm.what_if(R1=50), rm.what_if(R1=25, R2=100), rm.what_if(mains_volts=220))
    assert rows_of(v, "R1") == [
        (Conductors, pytest.approx([0.01, 0.02, 0.04, 0.01]), [True] * 4)
    ]  # fmt: skip
    assert v.tie_volts[:, v.tie_column["V1"]] == pytest.approx([20, 20, 20, 22])
    assert v.windings["T1"] == pytest.approx(np.sqrt(2) * np.array([12, 12, 12, 13.2]))
    assert len(v.tight) == 0


def test_an_open_part_is_silent(variants):
    v = variants(rm.what_if(R1=rm.OPEN), rm.what_if(R1=50))
    assert rows_of(v, "R1") == [
        (Conductors, pytest.approx([0.01, 0, 0.02]), [True, False, True])
    ]  # fmt: skip


def test_the_leak_of_an_open_diode_is_taken_off(variants):
    v = variants(rm.what_if(D1=rm.OPEN))
    junction, leak = rows_of(v, "D1")
    assert junction == (Junctions, pytest.approx([2, 0]), [True, False])
    assert leak == (Conductors, pytest.approx([0, -OFF_SIEMENS]), [False, False])


def test_a_short(variants):
    v = variants(rm.what_if(R1=rm.SHORT), rm.what_if(R1=rm.OPEN))
    own, short = rows_of(v, "R1")
    assert own[1:] == (pytest.approx([0.01, 0, 0]), [True, False, False])
    assert short[1:] == (pytest.approx([0, TIGHT_SIEMENS, 0]), [False, True, False])
    assert v.tight.tolist() == [v.start_of["R1"]]


def test_a_link_that_is_out_in_one_and_has_resistance_in_another(variants):
    v = variants(rm.what_if(K1=rm.OPEN), rm.what_if(K1=0.5))
    assert rows_of(v, "K1") == [
        (Conductors, pytest.approx([TIGHT_SIEMENS, 0, 2]), [True, False, True])
    ]  # fmt: skip
    assert "K1" not in v.tie_column
    assert "V1" in v.tie_column


def test_a_leak_that_a_capacitor_has_in_some(variants):
    v = variants(rm.what_if(C1={"leak_ohms": 1e4}), rm.what_if(C1=rm.OPEN), rm.what_if(C1=1e-4))
    branch, leak = rows_of(v, "C1")
    assert branch[2] == [True, True, False, True]
    assert leak == (Conductors, pytest.approx([0, 1e-4, 0, 0]), [False, True, False, False])
    still = variants(rm.what_if(C1={"leak_ohms": 1e4}), moving=False)
    assert rows_of(still, "C1") == [(Conductors, pytest.approx([0, 1e-4]), [False, True])]


def test_what_is_open_in_all_has_no_rows(m):
    calm = CalmMap(m)
    circuits = [calm.under(rm.what_if(R1=rm.OPEN, R2=ohms)) for ohms in (1, 2)]
    assert build_variants(circuits, True).places["R1"] == []


def test_ties_in_a_loop_with_a_loose_one_are_loose_too(m, variants):
    m.add(rm.Link("K2", "A", "RAW", board="Rear"))
    m.add(rm.Link("K3", "A", "F"))
    v = variants(rm.what_if(unplugged=["Rear"]))
    assert "K1" not in v.tie_column
    assert "K3" in v.tie_column
    assert sorted(v.tight.tolist()) == sorted(v.start_of[ref] for ref in ("K1", "K2"))


def test_some_of_them_under_the_structure_of_all(variants):
    v = variants(rm.what_if(R1=rm.OPEN), rm.what_if(R1=50), rm.what_if(mains_volts=220))
    some = v.some([3, 0])
    assert [c.mains_ratio for c in some.circuits] == [1.1, 1.0]
    assert some.places is v.places
    assert some.topology is v.topology
    for one, whole in zip(some.families, v.families, strict=True):
        assert np.array_equal(one.pins, whole.pins)
    assert rows_of(some, "R1") == [(Conductors, pytest.approx([0.01, 0.01]), [True, True])]
    assert some.tie_volts[:, some.tie_column["V1"]] == pytest.approx([22, 20])
    assert some.count == 2


def test_one_of_them_as_a_network(m, variants):
    v = variants(rm.what_if(R1=50), rm.what_if(D1=rm.OPEN), moving=False)
    for row, change in enumerate((rm.what_if(), rm.what_if(R1=50), rm.what_if(D1=rm.OPEN))):
        alone = rm.solve(m, change=rm.what_if({**change.parts, "T1": rm.OPEN}))
        network = v.network(row)
        settled = operate(network)
        for node in ("A", "B"):
            found = settled.node_volts[network.topology.index[node]]
            assert found == pytest.approx(alone.volts(node), rel=1e-6)


def names(variants, row):
    """Return the nodes of each island of one what-if, what nothing conducts to last."""
    found = {}
    for node, number in zip(variants.topology.nodes, islands(variants)[row], strict=True):
        found.setdefault(int(number), set()).add(node)
    return found


def test_islands(variants):
    v = variants(
        rm.what_if(K1=rm.OPEN), rm.what_if(L9=rm.OPEN, R4=rm.OPEN),
        rm.what_if(D1=rm.OPEN, L1=rm.OPEN, K1=rm.OPEN), rm.what_if(R3=rm.OPEN, T1=rm.OPEN),
    )  # fmt: skip
    whole = {"0V", "RAW", "A", "B", "C", "E"}
    assert names(v, 0)[0] == names(v, 1)[0] == names(v, 4)[0] == whole
    assert names(v, 2)[0] == whole - {"E"}
    assert names(v, 3)[0] == whole - {"A", "B"}
    for row in range(4):
        assert {"X", "Y"} in names(v, row).values()
    assert {"A", "B"} in names(v, 3).values()
    alone = [min(names(v, 2)), *(n for n in names(v, 4) if n < 0)]
    assert len(alone) == 3
    assert {"E"} in names(v, 2).values()
    assert min(names(v, 2)) < 0 <= min(names(v, 0))


def test_islands_are_those_of_each_circuit_by_itself(m):
    """Against the topology of every what-if alone."""
    m.add(rm.Regulator("U1", "A", "G", "0V", volts=5))
    m.add(rm.Resistor("R5", "G", "0V", ohms=50))
    calm = CalmMap(m)
    changes = [rm.what_if({one: rm.OPEN, other: rm.OPEN}) for one in m.parts for other in m.parts]
    v = build_variants([calm.under(c) for c in changes], moving=True)
    found = islands(v)
    for row, circuit in enumerate(v.circuits):
        alone = build_variants([circuit], moving=True).topology
        for a in m.nodes:
            for b in m.nodes:
                joined = a in alone.index and b in alone.index and (
                    alone.island[alone.index[a]] == alone.island[alone.index[b]]
                )  # fmt: skip
                if a != b and a in v.topology.index and b in v.topology.index:
                    one, other = (found[row, v.topology.index[n]] for n in (a, b))
                    assert (one == other) == joined, (changes[row], a, b)


def test_without_ties_of_sources_a_contradiction_can_still_be_laid_out(m):
    m.add(rm.Winding("T2", "X", "Y", volts_rms=12))
    v = build_variants([carry_out(m, rm.what_if())], moving=True)
    assert v.contradiction == ["T2", "T1"]
    assert v.tie_volts.shape == (1, len(v.topology.ties)) == (1, len(v.tie_slots))
    assert set(v.tie_column) == {"K1"}


CHANGES = (
    rm.what_if(), rm.what_if(R1=rm.SHORT), rm.what_if(R3=rm.SHORT), rm.what_if(R1=5, V1=3),
    rm.what_if(R1=rm.SHORT, L1=rm.SHORT), rm.what_if(K1=rm.OPEN, L1=rm.SHORT, R1=rm.SHORT),
    rm.what_if(V1={"ohms": 1.0}, R1=rm.SHORT, L1=rm.SHORT), rm.what_if(V1=rm.SHORT),
    rm.what_if(R3=rm.SHORT, T1={"ohms": 2.0}), rm.what_if(T1=rm.SHORT), rm.what_if(T1=rm.OPEN),
    rm.what_if(L9=rm.SHORT, R4=rm.SHORT), rm.what_if(R2=rm.OPEN), rm.what_if(R3=rm.OPEN),
)  # fmt: skip


@pytest.mark.parametrize("moving", [True, False])
def test_contradictions_are_found_without_building_anything(m, moving):
    calm, refusing = CalmMap(m), Contradictions(moving)
    seen = []
    for change in CHANGES:
        parts = dict(change.parts) if moving else {**change.parts, "T1": rm.OPEN}
        circuit = calm.under(rm.what_if(parts))
        expected = build_variants([circuit], moving).contradiction
        assert refusing.of(circuit) == expected, change
        assert Contradictions(moving).of(circuit) == expected
        seen.append(bool(expected))
    assert True in seen
    assert False in seen


def test_the_same_ties_are_looked_at_but_once(m, monkeypatch):
    looked = []

    def build(*given):
        looked.append(given)
        return build_topology(*given)

    monkeypatch.setattr(import_module("railmap.solve.islands"), "build_topology", build)
    calm, refusing = CalmMap(m), Contradictions(True)
    for k in range(20):
        assert refusing.of(calm.under(rm.what_if(R1=10 + k, R4=rm.OPEN))) == []
    assert len(looked) == 1
