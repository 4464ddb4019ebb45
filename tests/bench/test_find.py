"""What a text may mean: references, names, values, notes, and in which order."""

from collections.abc import Callable

import pytest

import railmap as rm
from railmap.bench.find import find
from railmap.figures import Figures
from railmap.resources import example_paths

Keys = Callable[[str], list[tuple[str, str]]]


@pytest.fixture
def m() -> rm.RailMap:
    m = rm.RailMap("Set")
    m.add_board("Preamp board", 160, 100)
    m.add(rm.Source("V1", "RAW", "0V", volts=27, notes="yellow wire, behind the front panel"))
    m.add(rm.Resistor("R1", "RAW", "P1", ohms=4700, rated_watts=2, board="Preamp board"))
    m.add(rm.Resistor("R10", "P1", "0V", ohms=150).with_found(236.4))
    m.add(rm.Capacitor("C1", "P1", "0V", farads=2200e-6, rated_volts=35))
    m.add(rm.Load("X1", "P1", "0V", amps=0.012, notes="Preamp"))
    m.add_rail("P1", "+12 bias", label_volts=12, max_volts=35, probe="pin 4 of the front plug")
    m.add_rail("RAW", "raw plus")
    return m


@pytest.fixture
def keys(m: rm.RailMap) -> Keys:
    return lambda text: [(f.kind, f.key) for f in find(m, text)]


def test_a_value_is_read_with_the_decimal_sign_of_the_reader(m: rm.RailMap) -> None:
    m.parts["R1"] = m.parts["R1"].changed(ohms=1234.0)
    assert [f.key for f in find(m, "1,234k", Figures(","))] == ["R1"]
    assert find(m, "1.234k", Figures(",")) == find(m, "1,234k") == []


def test_a_reference_comes_before_those_that_begin_with_it(keys: Keys) -> None:
    assert keys("R1") == [("part", "R1"), ("part", "R10")]
    assert keys("r10") == [("part", "R10")]


@pytest.mark.parametrize("text", ["4k7", "4700", "4.7k", "4,7 k", "4K7"])
def test_a_value_is_found_however_it_is_written(keys: Keys, text: str) -> None:
    assert keys(text) == [("part", "R1")]


def test_a_measured_value_and_the_drawn_one_are_both_found(keys: Keys) -> None:
    assert keys("150R") == keys("236R") == keys("236") == [("part", "R10")]


def test_values_are_compared_in_their_own_unit(m: rm.RailMap, keys: Keys) -> None:
    assert keys("2200u") == [("part", "C1")]
    assert keys("12mA") == [("part", "X1")]
    # The source and the rail: a figure alone may be the main value of anything.
    assert keys("27") == [("part", "V1")]
    assert keys("27V") == [("part", "V1")]


def test_a_rating_or_limit_is_found_with_its_unit_only(keys: Keys) -> None:
    assert keys("35V") == [("part", "C1"), ("rail", "P1")]
    assert keys("35") == []
    assert keys("2W") == [("part", "R1")]


def test_a_rail_is_found_by_name_node_label_and_probe(keys: Keys) -> None:
    assert keys("+12 BIAS") == keys("+12") == keys("p1") == [("rail", "P1")]
    assert keys("12V") == [("rail", "P1")]
    assert keys("pin 4") == [("rail", "P1")]
    assert keys("raw") == [("rail", "RAW")]


def test_a_minus_may_be_typed_with_a_hyphen() -> None:
    m = rm.RailMap()
    m.add_rail("N1", "\N{MINUS SIGN}30")
    assert [f.key for f in find(m, "-30")] == ["N1"]


def test_a_node_without_a_rail_is_found_but_not_the_zero_node(keys: Keys, m: rm.RailMap) -> None:
    m.add(rm.Link("J1", "RAW", "PLUG"))
    assert keys("plug")[0] == ("rail", "PLUG")
    assert keys("0V") == []


def test_names_come_before_notes(m: rm.RailMap, keys: Keys) -> None:
    assert keys("preamp") == [("board", "Preamp board"), ("part", "X1")]
    assert [f.by for f in find(m, "preamp")] == ["name", "notes"]


def test_all_words_must_match_if_the_whole_does_not(keys: Keys) -> None:
    assert keys("front yellow") == [("part", "V1")]
    assert keys("R1 4k7") == [("part", "R1")]
    assert keys("R1 9k1") == []


@pytest.mark.parametrize("text", ["", "  ", "no such thing", "%", "1/0", "1e999", "5 m 5"])
def test_what_is_nothing_finds_nothing(keys: Keys, text: str) -> None:
    assert keys(text) == []


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
def test_everything_with_a_name_is_found_first_by_it(path: object) -> None:
    m = rm.load(path)
    for kind, names in (("part", m.parts), ("board", m.boards)):
        for name in names:
            assert (kind, name) in [(f.kind, f.key) for f in find(m, name)][:2]
    for node, rail in m.rails.items():
        assert ("rail", node) in [(f.kind, f.key) for f in find(m, rail.title)][:3]
