"""What makes one map out of another is an edit like any other: it can be undone."""

import pytest
from hypothesis import given
from strategies import maps

import railmap as rm
from railmap.bench.difference import changes_between
from railmap.bench.history import History


@pytest.fixture
def divider() -> rm.RailMap:
    m = rm.RailMap("Divider")
    m.add_board("Main", 160, 100)
    m.add(rm.Source("V1", "RAW", "0V", volts=12, board="Main"))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100, board="Main"))
    m.add_rail("A", "+6", label_volts=6)
    return m


@given(maps(), maps())
def test_one_map_becomes_the_other_and_goes_back(old: rm.RailMap, new: rm.RailMap) -> None:
    m = old.copy()
    history = History(m)
    history.do("Restore", changes_between(m, new))
    assert m == new
    assert history.clean == (old == new)
    if not history.clean:
        history.undo()
    assert m == old


def test_only_what_differs_is_changed(divider: rm.RailMap) -> None:
    new = divider.copy()
    part = new.parts["R1"].changed(notes="seen")
    new.change([rm.model.railmap.Change("parts", "R1", part)])
    (change,) = changes_between(divider, new)
    assert (change.table, change.key, change.item) == ("parts", "R1", part)


def test_the_order_is_part_of_the_map(divider: rm.RailMap) -> None:
    new = divider.copy()
    new.parts = dict(reversed(new.parts.items()))
    m = divider.copy()
    m.change(changes_between(m, new))
    assert list(m.parts) == list(reversed(divider.parts))


def test_equal_maps_need_no_change(divider: rm.RailMap) -> None:
    assert changes_between(divider, divider.copy()) == []
