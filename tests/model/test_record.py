"""The record of a unit: what a reading gives, and what the map refuses."""

from __future__ import annotations

import pytest

import railmap as rm
from railmap.errors import MapError
from railmap.model.railmap import Change
from railmap.model.record import QUANTITIES, UNITS
from railmap.store.files import dumps, loads


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_a_reading_gives_one_quantity(quantity: str) -> None:
    reading = rm.Reading("A", **{quantity: 3.5})
    assert (reading.quantity, reading.value, reading.unit) == (quantity, 3.5, UNITS[quantity])


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({}, "a reading gives one of volts, volts_rms, ripple_pp, cold_ohms, amps, celsius, "
         "here none of them"),
        ({"volts": 1.0, "amps": 2.0}, "here volts and amps"),
        ({"cold_ohms": -1.0}, "cold_ohms must be at least 0, is -1"),
        ({"volts": float("nan")}, "volts must be a finite number, is nan"),
    ],
)  # fmt: skip
def test_a_reading_that_cannot_be_is_refused(given: dict[str, float], sentence: str) -> None:
    with pytest.raises(MapError) as refused:
        rm.Reading("A", **given)
    assert sentence in str(refused.value)


def test_readings_are_numbered_by_the_map() -> None:
    m = rm.RailMap()
    first, second = (m.add_reading(rm.Reading("A", volts=v)) for v in (1.0, 2.0))
    assert (first.key, second.key, m.next_reading_key()) == ("1", "2", "3")


@pytest.mark.parametrize(
    ("given", "sentence"),
    [({"setup": "x"}, "there is no setup 'x'"), ({"meter": "y"}, "there is no meter 'y'")],
)
def test_a_reading_names_a_setup_and_a_meter_of_the_map(
    given: dict[str, str], sentence: str
) -> None:
    m = rm.RailMap()
    with pytest.raises(MapError, match=sentence):
        m.add_reading(rm.Reading("A", volts=1.0, **given))
    assert not m.readings


def test_a_record_is_saved_with_the_map_and_undone_with_it() -> None:
    m = rm.RailMap(title="Divider")
    m.add_setup("bench")
    m.add_meter("dmm", volts=rm.Accuracy(pct=0.1, counts=1))
    m.add_reading(rm.Reading("A", volts=11.2, setup="bench", meter="dmm", time="2026-11-25"))
    back = m.change([Change("unit", None, rm.Unit(serial="0042", complaint="hums"))])
    again = loads(dumps(m))
    assert again == m
    assert again.unit.serial == "0042"
    m.change(back)
    assert m.unit == rm.Unit()
