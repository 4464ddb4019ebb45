"""Edits that reach across the map."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import maps

import railmap as rm
from railmap.bench.edits import (
    free_node,
    free_ref,
    remove_board,
    remove_parts,
    rename_board,
    rename_node,
    rename_part,
    revisions_beside,
)
from railmap.errors import MapError
from railmap.model.railmap import Change, RailMap


@pytest.fixture
def m() -> RailMap:
    m = RailMap(title="Bench divider")
    m.add_board("Main", 160, 100)
    m.add_board("Plug", 50, 30)
    m.add(rm.Source("V1", "RAW", "0V", volts=24))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150, board="Main"))
    m.add(rm.Link("J1", "A", "B", accessory=True, board="Plug"))
    m.add(rm.Capacitor("C1", "A", "A", farads=1e-6, board="Main"))
    m.add_rail("A", "+12", label_volts=12)
    m.add_rail("B", "+12 out")
    m.add_setup("bare", unplugged=["Main", "Plug"], accessories_out=["J1", "R1"])
    m.add_setup("whole")
    m.add_revision("late", values={"R1": {"ohms": 120, "rated_watts": 2}, "C1": {"farads": 2e-6}})
    m.add_revision("early", values={"C1": {"farads": 3e-6}})
    return m


def refusal(make: Callable[..., object], *args: object) -> str:
    with pytest.raises(MapError) as refused:
        make(*args)
    return str(refused.value)


def test_a_node_is_renamed_on_all_parts_and_its_rail(m: RailMap) -> None:
    changes = rename_node(m, "A", "+12")  # by its own rail's name
    assert [change.key for change in changes] == ["R1", "J1", "C1", "A"]
    m.change(changes)
    assert [part.nodes for part in m.parts.values()] == [
        ("RAW", "0V"),
        ("RAW", "+12"),
        ("+12", "B"),
        ("+12", "+12"),
    ]
    assert list(m.rails) == ["+12", "B"]
    assert m.rails["+12"].label_volts == 12


def test_a_node_with_no_part_or_no_rail_is_renamed_too(m: RailMap) -> None:
    m.add_rail("far")
    m.change(rename_node(m, "far", "near"))
    m.change(rename_node(m, "RAW", "raw"))
    assert list(m.rails) == ["A", "B", "near"]
    assert m.parts["R1"].nodes == ("raw", "A")


def test_no_two_nodes_are_joined_by_a_name(m: RailMap) -> None:
    assert refusal(rename_node, m, "A", "B") == "there is already a node 'B'"
    assert refusal(rename_node, m, "RAW", "+12") == "'+12' is the name of the rail on node 'A'"
    zero = "0V is the zero node of every map and keeps its name"
    assert refusal(rename_node, m, "0V", "GND") == zero
    assert refusal(rename_node, m, "A", "0V") == zero
    assert refusal(rename_node, m, "Q", "P") == "there is no node 'Q'"
    assert refusal(rename_node, m, "A", " P").startswith("the node's name ' P' must not begin")
    m.add_rail("far")
    assert refusal(rename_node, m, "A", "far") == "there is already a node 'far'"
    assert rename_node(m, "A", "A") == []


def test_a_part_is_renamed_with_its_mentions(m: RailMap) -> None:
    m.change(rename_part(m, "J1", "J101"))
    assert list(m.parts) == ["V1", "R1", "J101", "C1"]
    assert m.setups["bare"].accessories_out == ("J101", "R1")
    assert len(rename_part(m, "V1", "V101")) == 1
    assert rename_part(m, "R1", "R1") == []
    assert refusal(rename_part, m, "R9", "R10") == "there is no part 'R9'"
    assert refusal(rename_part, m, "R1", "C1") == "there is already a part 'C1'"
    assert refusal(rename_part, m, "R1", "") == "R1: the reference must not be empty"


def test_a_board_is_renamed_with_its_mentions(m: RailMap) -> None:
    m.change(rename_board(m, "Main", "Supply"))
    assert list(m.boards) == ["Supply", "Plug"]
    assert [part.board for part in m.parts.values()] == ["", "Supply", "Plug", "Supply"]
    assert m.setups["bare"].unplugged == ("Supply", "Plug")
    assert rename_board(m, "Plug", "Plug") == []
    assert refusal(rename_board, m, "Main", "X") == "there is no board 'Main'"
    assert refusal(rename_board, m, "Plug", "Supply") == "there is already a board 'Supply'"
    assert refusal(rename_board, m, "Plug", "") == "the board's name must not be empty"


def test_revisions_follow_a_rename(m: RailMap) -> None:
    m.change(rename_part(m, "C1", "C101"))
    assert list(m.revisions["late"].values) == ["R1", "C101"]
    assert m.revisions["early"].values == {"C101": {"farads": 3e-6}}
    early = m.revisions["early"]
    m.change(rename_part(m, "R1", "R101"))
    assert m.revisions["late"].values["R101"] == {"ohms": 120.0, "rated_watts": 2.0}
    assert m.revisions["early"] is early


def test_revisions_lose_what_is_removed(m: RailMap) -> None:
    m.change(remove_parts(m, ["R1", "V1"]))
    assert m.revisions["late"].values == {"C1": {"farads": 2e-6}}
    m.change(remove_board(m, "Main"))
    assert [revision.values for revision in m.revisions.values()] == [{}, {}]


def test_revisions_lose_what_another_kind_cannot_have(m: RailMap) -> None:
    fuse = rm.Fuse("R1", "RAW", "A", board="Main")
    with pytest.raises(MapError, match=r"^revision late: R1: 'rated_watts' is no value of a Fuse$"):
        m.change([Change("parts", "R1", fuse)])
    m.change([Change("parts", "R1", fuse), *revisions_beside(m, [fuse])])
    assert m.revisions["late"].values == {"R1": {"ohms": 120.0}, "C1": {"farads": 2e-6}}
    assert revisions_beside(m, [m.parts["R1"].changed(ohms=1), rm.Switch("S9", "A", "B")]) == []


def test_parts_are_removed_with_their_mentions(m: RailMap) -> None:
    m.change(remove_parts(m, ["R1", "V1", "R1"]))
    assert list(m.parts) == ["J1", "C1"]
    assert m.setups["bare"] == rm.Setup(
        name="bare", unplugged=("Main", "Plug"), accessories_out=("J1",)
    )
    assert remove_parts(m, []) == []
    assert refusal(remove_parts, m, ["J1", "R1"]) == "there is no part 'R1'"


def test_a_board_is_removed_with_its_parts_and_mentions(m: RailMap) -> None:
    m.change(remove_board(m, "Main"))
    assert (list(m.boards), list(m.parts)) == (["Plug"], ["V1", "J1"])
    assert m.setups["bare"] == rm.Setup(name="bare", unplugged=("Plug",), accessories_out=("J1",))
    assert refusal(remove_board, m, "Main") == "there is no board 'Main'"


@pytest.mark.parametrize(
    ("taken", "prefix", "free"),
    [
        ([], "R", "R1"),
        (["R1", "R103", "R7"], "R", "R104"),
        (["R103", "C200", "RV300"], "R", "R104"),
        (["RV300"], "RV", "RV301"),
        # a suffix letter marks one of a group: common practice, no source
        (["R104A", "R104B"], "R", "R105"),
        (["R007"], "R", "R8"),
        (["R٣"], "R", "R1"),
        (["R.5"], "R.", "R.6"),
        (["5"], "", "6"),
    ],
)
def test_the_next_reference_is_above_the_highest(taken: list[str], prefix: str, free: str) -> None:
    m = RailMap()
    for ref in taken:
        m.add(rm.Resistor(ref, "A", "B", ohms=1))
    assert free_ref(m, prefix) == free


def test_the_next_node_is_free_of_parts_rails_and_their_names() -> None:
    m = RailMap()
    assert free_node(m) == "N1"
    m.add(rm.Resistor("R1", "N1", "0V", ohms=1))
    assert free_node(m) == "N2"
    m.add_rail("N5", "N7")
    assert free_node(m) == "N8"
    assert free_node(m, "RAW") == "RAW1"


@given(maps(), st.text(st.characters(categories=("Lu",)), max_size=3))
def test_what_is_free_is_taken_by_nothing(m: RailMap, prefix: str) -> None:
    assert free_ref(m, prefix) not in m.parts
    node = free_node(m, prefix)
    assert node not in [*m.nodes, *m.rails, *(rail.name for rail in m.rails.values())]
