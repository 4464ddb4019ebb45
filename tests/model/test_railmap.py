"""The map: adding, changing all or nothing, and agreement between its items."""

from collections.abc import Callable

import pytest
from hypothesis import given
from strategies import abouts, maps

import railmap as rm
from railmap.errors import MapError
from railmap.model.railmap import About, Change, Document, RailMap


@pytest.fixture
def m() -> RailMap:
    m = RailMap(title="Bench divider", mains_volts=230, mains_hertz=50)
    m.add_board("Main", width_mm=160, height_mm=100)
    m.add_board("Plug", width_mm=50, height_mm=30)
    m.add(rm.Source("V1", plus="RAW", minus="0V", volts=24, ohms=0.5))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150, board="Main"))
    m.add(rm.Link("J1", "A", "B", accessory=True, board="Plug"))
    m.add_rail("A", "+12", label_volts=12)
    m.add_rail("B")
    m.add_setup("bare", unplugged=["Plug"], accessories_out=["J1"])
    m.add_revision("late", values={"R1": {"ohms": 120}})
    m.add_meter("bench")
    m.add_reading(rm.Reading("A", volts=11.2, setup="bare", meter="bench"))
    return m


def refusal(make: Callable[..., object], *args: object, **fields: object) -> str:
    with pytest.raises(MapError) as refused:
        make(*args, **fields)
    return str(refused.value)


def test_a_map_says_what_it_is(m: RailMap) -> None:
    assert (m.title, m.mains_volts, m.mains_hertz) == ("Bench divider", 230, 50)
    assert repr(m) == "<RailMap 'Bench divider': 2 boards, 3 parts, 2 rails>"
    assert m.nodes == ["RAW", "0V", "A", "B"]


def test_boards_line_up_unless_placed(m: RailMap) -> None:
    assert (m.boards["Main"].x_mm, m.boards["Plug"].x_mm) == (0, 200)
    assert m.add_board("Third", 10, 10, x_mm=-5, y_mm=7, laminate="FR-4").y_mm == 7
    assert m.add_board("Fourth", 10, 10).x_mm == 290


def test_a_name_is_taken_once(m: RailMap) -> None:
    assert refusal(m.add_board, "Main", 1, 1) == "there is already a board 'Main'"
    part = rm.Resistor("R1", "X", "Y", 1)
    assert refusal(m.add, part) == "there is already a part 'R1'"
    assert refusal(m.add_rail, "A") == "there is already a rail on node 'A'"
    sentence = "the name '+12' is taken by the rail on node 'A'"
    assert refusal(m.add_rail, "C", "+12") == sentence
    assert refusal(m.add_setup, "bare") == "there is already a setup 'bare'"
    assert refusal(m.add_revision, "late") == "there is already a revision 'late'"


def test_what_is_named_must_exist(m: RailMap) -> None:
    stray = rm.Resistor("R2", "A", "B", 1, board="Zz")
    assert refusal(m.add, stray) == "R2: it is on board 'Zz', which the map does not have"
    assert refusal(m.add_setup, "x", unplugged=["Zz"]) == "there is no board 'Zz'"
    assert refusal(m.add_setup, "x", accessories_out=["R9"]) == "there is no part 'R9'"
    stray_values = {"R9": {"ohms": 1}}
    assert refusal(m.add_revision, "x", values=stray_values) == "there is no part 'R9'"
    assert refusal(m.table, "wires") == "a map has no 'wires'"
    assert refusal(m.add, rm.Board("B", 1, 1)) == "parts cannot hold a Board"
    assert refusal(m.node_of, "Q") == "there is no node or rail 'Q'"


def test_a_refused_item_leaves_the_map_as_it_was(m: RailMap) -> None:
    before = m.document()
    for make in (
        lambda: m.add_board("Main", 1, 1),
        lambda: m.add(rm.Resistor("R2", "A", "B", 1, board="Zz")),
        lambda: m.add_rail("C", "+12"),
        lambda: m.add_setup("x", unplugged=["Zz"]),
    ):
        refusal(make)
    assert m.document() == before


def test_a_node_goes_by_its_name_or_its_rails(m: RailMap) -> None:
    assert [m.node_of(name) for name in ("0V", "A", "+12", "B", "RAW")] == [
        "0V",
        "A",
        "A",
        "B",
        "RAW",
    ]
    assert RailMap().node_of("0V") == "0V"


def test_a_copy_is_on_its_own(m: RailMap) -> None:
    twin = m.copy()
    assert twin == m
    twin.add_rail("RAW")
    assert twin != m
    assert "RAW" not in m.rails


def test_a_map_equals_no_other_thing(m: RailMap) -> None:
    assert m != "Bench divider"
    with pytest.raises(TypeError):
        hash(m)


@given(maps())
def test_a_map_and_its_document_are_one(m: RailMap) -> None:
    assert RailMap.from_document(m.document()) == m
    m.check()


R1 = rm.Resistor("R1", "A", "B", 1)


@pytest.mark.parametrize(
    ("document", "sentence"),
    [
        (Document(parts=(R1, R1)), "parts[1] R1: parts[0] has the same ref"),
        (
            Document(boards=(rm.Board("M", 1, 1), rm.Board("N", 1, 1), rm.Board("N", 2, 2))),
            "boards[2] N: boards[1] has the same name",
        ),
        (
            Document(rails=(rm.Rail("A"), rm.Rail("A", "x"))),
            "rails[1] A: rails[0] has the same node",
        ),
        (
            Document(rails=(rm.Rail("A", "x"), rm.Rail("B", "x"))),
            "rails[1] B: the name 'x' is taken by the rail on node 'A'",
        ),
        (
            Document(setups=(rm.Setup(), rm.Setup())),
            "setups[1] as used: setups[0] has the same name",
        ),
        (
            Document(parts=(R1.changed(board="Zz"),)),
            "parts[0] R1: it is on board 'Zz', which the map does not have",
        ),
        (
            Document(setups=(rm.Setup(unplugged=("Zz",)),)),
            "setups[0] as used: there is no board 'Zz'",
        ),
        (
            Document(parts=(R1,), setups=(rm.Setup(accessories_out=("R1", "R2")),)),
            "setups[0] as used: there is no part 'R2'",
        ),
        (
            Document(meters=(rm.Meter(name="m"), rm.Meter(name="m"))),
            "meters[1] m: meters[0] has the same name",
        ),
        (
            Document(readings=(rm.Reading("A", volts=1, key="1", meter="m"),)),
            "readings[0] 1: there is no meter 'm'",
        ),
        (
            Document(readings=(rm.Reading("A", volts=1, key="1"),) * 2),
            "readings[1] 1: readings[0] has the same key",
        ),
        (
            Document(revisions=(rm.Revision("late"), rm.Revision("late"))),
            "revisions[1] late: revisions[0] has the same name",
        ),
        (
            Document(parts=(R1,), revisions=(rm.Revision("late", values={"R2": {"ohms": 1}}),)),
            "revisions[0] late: there is no part 'R2'",
        ),
        (
            Document(parts=(R1,), revisions=(rm.Revision("late", values={"R1": {"farads": 1}}),)),
            "revisions[0] late: R1: 'farads' is no value of a Resistor",
        ),
        (
            Document(parts=(R1,), revisions=(rm.Revision("late", values={"R1": {"ohms": -1}}),)),
            "revisions[0] late: R1: ohms must be above 0, is -1",
        ),
    ],
)
def test_a_document_that_contradicts_itself_is_refused_with_the_place(
    document: Document, sentence: str
) -> None:
    assert refusal(RailMap.from_document, document) == sentence


CHANGES = {
    "add at the end": [Change("parts", None, rm.Fuse("F1", "A", "B"))],
    "add in between": [Change("parts", None, rm.Fuse("F1", "A", "B"), 1)],
    "replace": [Change("parts", "R1", rm.Fuse("R1", "A", "B"))],
    "rename": [
        Change("parts", "R1", rm.Resistor("R101", "RAW", "A", ohms=150, board="Main")),
        Change("revisions", "late", rm.Revision("late", values={"R101": {"ohms": 120}})),
    ],
    "add a revision in between": [Change("revisions", None, rm.Revision("early"), 0)],
    "change a revision": [
        Change("revisions", "late", rm.Revision("late", values={"R1": {"rated_watts": 2}}))
    ],
    "rename a revision": [Change("revisions", "late", rm.Revision("last"))],
    "change a meter": [Change("meters", "bench", rm.Meter(name="bench", input_ohms=1e6))],
    "rename a meter with what it read": [
        Change("meters", "bench", rm.Meter(name="spare")),
        Change("readings", "1", rm.Reading("A", volts=11.2, meter="spare", key="1")),
    ],
    "add a reading": [Change("readings", None, rm.Reading("R1", cold_ohms=149.0, key="2"))],
    "add a reading before the others": [
        Change("readings", None, rm.Reading("B", ripple_pp=0.1, key="2"), 0)
    ],
    "correct a reading": [Change("readings", "1", rm.Reading("A", volts=11.3, key="1"))],
    "remove a reading": [Change("readings", "1", None)],
    "unit": [Change("unit", None, rm.Unit(serial="0042"))],
    "remove a revision": [Change("revisions", "late", None)],
    "remove": [Change("parts", "V1", None)],
    "remove and add again": [
        Change("parts", "R1", None),
        Change("parts", None, rm.Fuse("R1", "A", "B")),
    ],
    "two that swap their names": [
        Change("rails", "A", rm.Rail("A", "x")),
        Change("rails", "B", rm.Rail("B", "+12")),
        Change("rails", "A", rm.Rail("A", "y")),
    ],
    "a board with all that names it": [
        Change("boards", "Plug", None),
        Change("parts", "J1", None),
        Change("setups", "bare", None),
        Change("readings", "1", rm.Reading("A", volts=11.2, meter="bench", key="1")),
    ],
    "about": [Change("about", None, About("Other", 240))],
}


@pytest.mark.parametrize("changes", CHANGES.values(), ids=CHANGES)
def test_changes_can_be_taken_back_to_the_same_order(m: RailMap, changes: list[Change]) -> None:
    before = m.document()
    back = m.change(changes)
    after = m.document()
    assert after != before
    forth = m.change(back)
    assert m.document() == before
    m.change(forth)
    assert m.document() == after


def test_order_is_kept(m: RailMap) -> None:
    m.change([*CHANGES["add in between"], *CHANGES["rename"]])
    assert list(m.parts) == ["V1", "F1", "R101", "J1"]
    m.change([Change("parts", "F1", None)])
    assert list(m.parts) == ["V1", "R101", "J1"]


def test_a_change_to_the_same_is_none(m: RailMap) -> None:
    before = m.document()
    same = [Change("about", None, m.about), Change("parts", "R1", m.parts["R1"].changed())]
    assert m.change(same) == ()
    assert m.document() == before


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (Change("parts", "R9", None), "there is no part 'R9'"),
        (Change("rails", "Q", rm.Rail("Q")), "there is no rail on node 'Q'"),
        (Change("parts", None, R1), "there is already a part 'R1'"),
        (Change("parts", "J1", R1), "there is already a part 'R1'"),
        (
            Change("parts", None, R1.changed(ref="R2", board="Zz")),
            "part R2: it is on board 'Zz', which the map does not have",
        ),
        (
            Change("boards", "Main", None),
            "part R1: it is on board 'Main', which the map does not have",
        ),
        (Change("parts", "J1", None), "setup bare: there is no part 'J1'"),
        (Change("parts", "R1", None), "revision late: there is no part 'R1'"),
        (
            Change("parts", "R1", rm.Capacitor("R1", "A", "B", farads=1)),
            "revision late: R1: 'ohms' is no value of a Capacitor",
        ),
        (Change("meters", "bench", None), "reading 1: there is no meter 'bench'"),
        (Change("meters", None, rm.Meter(name="bench")), "there is already a meter 'bench'"),
        (
            Change("readings", None, rm.Reading("A", volts=1, key="1")),
            "there is already a reading '1'",
        ),
        (
            Change("readings", None, rm.Reading("A", volts=1, setup="x", key="2")),
            "reading 2: there is no setup 'x'",
        ),
        (
            Change("readings", None, rm.Reading("A", volts=1)),
            "reading : the number of the reading must not be empty",
        ),
        (Change("readings", "9", None), "there is no reading '9'"),
        (Change("unit", None, None), "unit cannot hold nothing"),
        (Change("revisions", "early", None), "there is no revision 'early'"),
        (Change("revisions", None, rm.Setup()), "revisions cannot hold a Setup"),
        (
            Change("rails", "B", rm.Rail("B", "+12")),
            "rail on node B: the name '+12' is taken by the rail on node 'A'",
        ),
        (Change("wires", None, R1), "a map has no 'wires'"),
        (Change("parts", None, rm.Rail("Q")), "parts cannot hold a Rail"),
        (Change("parts", "R1", rm.Rail("R1")), "parts cannot hold a Rail"),
        (Change("rails", None, None), "rails cannot hold nothing"),
        (Change("about", None, None), "about cannot hold nothing"),
    ],
)
def test_a_refused_change_changes_nothing(m: RailMap, change: Change, sentence: str) -> None:
    before = m.document()
    good = Change("about", None, About("Other"))
    assert refusal(m.change, [good, *CHANGES["add in between"], change]) == sentence
    assert m.document() == before


@given(abouts, abouts)
def test_what_holds_for_the_whole_map_is_swapped_whole(old: About, about: About) -> None:
    m = RailMap.from_document(Document(about=old))
    back = m.change([Change("about", None, about)])
    assert m.about == about
    m.change(back)
    assert m.about is old
