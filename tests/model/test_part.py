"""What every part has in common: pins, known values, copies."""

import math

import msgspec
import pytest
from hypothesis import given
from strategies import parts

import railmap as rm
from railmap.errors import MapError
from railmap.model.kinds import KINDS


def resistor() -> rm.Resistor:
    return rm.Resistor("R1", "RAW", "A", ohms=150, rated_watts=5)


def refusal(make: object, *args: object, **fields: object) -> str:
    with pytest.raises(MapError) as refused:
        make(*args, **fields)  # type: ignore[operator]
    return str(refused.value)


def test_reference_and_nodes_are_names() -> None:
    assert refusal(rm.Resistor, "", "A", "B", 1) == "the reference must not be empty"
    assert refusal(rm.Resistor, "R1", "A ", "B", 1).startswith("node a 'A ' must not begin")
    assert refusal(rm.Regulator, "U1", "A", "B", "", 5) == "node common must not be empty"


def test_a_part_knows_its_kind_nodes_ends_and_unit() -> None:
    bridge = rm.Bridge("D1", "P", "Q", "RAW", "0V")
    assert (bridge.kind, bridge.nodes) == ("Bridge", ("P", "Q", "RAW", "0V"))
    assert bridge.ends == ("plus", "minus")
    assert rm.Regulator("U1", "RAW", "A", "0V", 5).ends == ("input", "output")
    assert resistor().ends == ("a", "b")
    assert (resistor().main_field, resistor().unit) == ("ohms", "ohm")


def test_the_last_known_value_counts() -> None:
    part = resistor()
    assert part.now() == 150
    fitted = part.with_fitted(160, date="2024-05-17", source="marking on the body")
    assert (fitted.now(), fitted.now("ohms"), fitted.ohms) == (160, 160, 150)
    found = fitted.with_found(236, source="ohmmeter, one leg lifted")
    assert found.now() == 236
    assert found.now("rated_watts") == 5
    assert found.with_fitted(10, "rated_watts").now("rated_watts") == 10
    assert found.fitted["ohms"] == rm.Known(160, "2024-05-17", "marking on the body")


def test_settled_puts_known_values_in_place_of_drawn_ones() -> None:
    part = resistor()
    assert part.settled() is part
    known = part.with_fitted(160).with_found(236).with_fitted(7, "rated_watts")
    assert known.settled() == rm.Resistor("R1", "RAW", "A", ohms=236, rated_watts=7)
    assert known.with_value(1) == rm.Resistor("R1", "RAW", "A", ohms=1, rated_watts=7)
    assert known.with_value(2, "rated_watts").now("rated_watts") == 2


@pytest.mark.parametrize("name", ["ref", "a", "board", "place", "notes", "technology", "bogus"])
def test_only_numbers_have_known_values(name: str) -> None:
    sentence = f"R1: fitted {name!r} is no value of a Resistor"
    assert refusal(resistor().with_fitted, 1, name) == sentence


def test_known_values_keep_the_limits_of_their_field() -> None:
    assert refusal(resistor().with_fitted, -1) == "R1: fitted ohms must be above 0, is -1"
    assert refusal(resistor().with_found, 101, "tolerance_pct") == (
        "R1: found tolerance_pct must be at least 0 and at most 100, is 101"
    )
    assert refusal(resistor().with_found, math.inf) == (
        "R1: found ohms: value must be a finite number, is inf"
    )


def test_known_values_must_go_together() -> None:
    load = rm.Load("L1", "A", "0V", amps=0.1)
    assert refusal(load.with_found, 120, "ohms") == (
        "L1: with its last known values, a load is given by one of amps, ohms or watts, "
        "here by amps and ohms"
    )
    part = resistor().changed(rated_c=70, zero_c=155)
    assert refusal(part.with_fitted, 200, "rated_c") == (
        "R1: with its last known values, zero_c must be above rated_c (200), is 155"
    )


def test_a_changed_copy_is_checked_like_a_new_part() -> None:
    part = resistor()
    assert part.changed(ohms=82, board="Main") == rm.Resistor(
        "R1", "RAW", "A", ohms=82, rated_watts=5, board="Main"
    )
    assert part == resistor()
    assert refusal(part.changed, ohms=-82) == "R1: ohms must be above 0, is -82"
    assert refusal(part.changed, bogus=1) == "R1: a Resistor has no field 'bogus'"
    assert refusal(part.changed, ref="") == "R1: the reference must not be empty"


def test_a_part_is_frozen() -> None:
    with pytest.raises(AttributeError):
        resistor().ohms = 1  # type: ignore[misc]


@pytest.mark.parametrize("turn", [0, 90, 180, 270, -90, 720])
def test_a_part_turns_by_right_angles(turn: int) -> None:
    assert rm.Place(1, 2, turn).turn == turn


def test_and_by_nothing_else() -> None:
    assert refusal(rm.Place, 1, 2, 45) == "turn must be a multiple of 90 degrees, is 45"


@given(parts())
def test_any_part_has_a_value_of_each_of_its_fields(part: rm.Part) -> None:
    assert len(part.nodes) == len(part.pins) >= 2
    assert set(part.ends) <= set(part.pins)
    assert part.settled().now(part.main_field) == part.now()
    for stage in (part.fitted, part.found):
        for name in stage:
            assert part.settled().now(name) == part.now(name)
    assert part.changed() == part
    assert msgspec.convert(msgspec.to_builtins(part), type(part)) == part


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_names_its_main_value_and_its_unit(kind: type[rm.Part]) -> None:
    assert kind.main in kind.__struct_fields__
    assert kind.main_unit or kind is rm.PassTransistor  # a gain has no unit
    assert all(pin in kind.__struct_fields__ for pin in kind.pins)
    assert kind.__name__ in rm.__all__
