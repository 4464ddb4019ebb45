"""Revisions by themselves: names, and values that some part could have."""

import math
from typing import Any

import numpy as np
import pytest

import railmap as rm
from railmap.errors import MapError
from railmap.model.part import value_complaint

PARTS = {
    "R1": rm.Resistor("R1", "A", "B", ohms=82),
    "C1": rm.Capacitor("C1", "B", "0V", farads=1e-3),
}


def test_it_says_what_a_part_is_fitted_with() -> None:
    late = rm.Revision("late", "1974-05", values={"R1": {"ohms": 68, "rated_watts": 2}})
    assert late.of("R1") == {"ohms": 68.0, "rated_watts": 2.0}
    assert late.of("R2") == {}
    late.check_against(PARTS)


def test_numbers_of_any_type_become_plain_ones() -> None:
    late = rm.Revision("late", values={"R1": {"ohms": np.float32(0.5), "rated_watts": np.int64(2)}})
    assert [type(value) for value in late.values["R1"].values()] == [float, float]
    assert late == rm.Revision("late", values={"R1": {"ohms": 0.5, "rated_watts": 2.0}})


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"name": ""}, "the revision's name must not be empty"),
        ({"name": " late"}, "the revision's name ' late' must not begin or end with a blank"),
        ({"name": "late", "date": 1974}, "date must be text, is 1974"),
        (
            {"name": "late", "values": 68},
            "values must be a value for each field for each part, is 68",
        ),
        (
            {"name": "late", "values": {"R1": {"ohms": "68R"}}},
            "values must be a value for each field for each part, is an object",
        ),
        ({"name": "late", "values": {"R1": {}}}, "it names 'R1', but no value of it"),
        ({"name": "late", "values": {"": {"ohms": 1}}}, "the reference must not be empty"),
        (
            {"name": "late", "values": {"R1": {"ohms": math.nan}}},
            "R1: ohms must be a finite number, is nan",
        ),
        (
            {"name": "late", "values": {"R1": {"ohms": 10**400}}},
            "R1: ohms must be at most 1.8e+308 either way, is a number with too many digits",
        ),
    ],
)
def test_what_cannot_be_is_refused(fields: dict[str, Any], sentence: str) -> None:
    with pytest.raises(MapError) as refused:
        rm.Revision(**fields)
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"R9": {"ohms": 1}}, "there is no part 'R9'"),
        ({"R1": {"ohms": 0}}, "R1: ohms must be above 0, is 0"),
        ({"C1": {"ohms": 1}}, "C1: 'ohms' is no value of a Capacitor"),
        ({"C1": {"polarised": 1}}, "C1: 'polarised' is no value of a Capacitor"),
        ({"R1": {"board": 1}}, "R1: 'board' is no value of a Resistor"),
    ],
)
def test_what_no_part_can_have_is_refused(values: dict[str, Any], sentence: str) -> None:
    late = rm.Revision("late", values=values)
    with pytest.raises(MapError) as refused:
        late.check_against(PARTS)
    assert str(refused.value) == sentence


def test_what_a_revision_may_say_is_what_may_be_fitted() -> None:
    for part in PARTS.values():
        for field in part.__struct_fields__:
            if value_complaint(type(part), field, 5.0) is None:
                assert part.with_fitted(5.0, field).now(field) == 5.0
            else:
                with pytest.raises(MapError):
                    part.with_fitted(5.0, field)
