"""Fields of the right type, in range, and fit to be saved; one sentence for each that is not."""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import inspect
from strategies import names, values

import railmap as rm
from railmap.errors import MapError
from railmap.model.checks import (
    MAX_WHOLE,
    check_name,
    complaint,
    fields_of,
    options_of,
    show,
)
from railmap.model.kinds import KINDS
from railmap.model.railmap import About

DOCUMENT_KINDS = (*KINDS, rm.Board, rm.Rail, rm.Setup, rm.Place, rm.Known, About)


def resistor(**fields: Any) -> rm.Resistor:
    return rm.Resistor(**{"ref": "R1", "a": "A", "b": "B", "ohms": 150.0, **fields})


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"ohms": -82}, "ohms must be above 0, is -82"),
        ({"ohms": 0}, "ohms must be above 0, is 0"),
        ({"ohms": -0.5}, "ohms must be above 0, is -0.5"),
        ({"ohms": "150"}, "ohms must be a number, is '150'"),
        ({"ohms": None}, "ohms must be a number, is nothing"),
        ({"ohms": True}, "ohms must be a number, is true"),
        ({"ohms": 1j}, "ohms must be a number, is a complex"),
        ({"ohms": math.nan}, "ohms must be a finite number, is nan"),
        ({"ohms": math.inf}, "ohms must be a finite number, is inf"),
        (
            {"ohms": 10**400},
            "ohms must be at most 1.8e+308 either way, is a number with too many digits",
        ),
        ({"rated_watts": 0}, "rated_watts must be above 0, is 0"),
        ({"rated_watts": "5"}, "rated_watts must be a number or nothing, is '5'"),
        (
            {"tolerance_pct": 100.00001},
            "tolerance_pct must be at least 0 and at most 100, is 100.00001",
        ),
        ({"notes": 3}, "notes must be text, is 3"),
        ({"notes": "\ud800"}, "notes holds a character that cannot be saved"),
        ({"place": (1, 2)}, "place must be a Place or nothing, is a list"),
        ({"place": {"x_mm": 1}}, "place must be a Place or nothing, is an object"),
        ({"fitted": []}, "fitted must be a Known for each field, is a list"),
        ({"fitted": {"ohms": 3}}, "fitted must be a Known for each field, is an object"),
        (
            {"technology": "carbon"},
            "technology must be empty, carbon composition, carbon film, fusible, metal film, "
            "metal oxide or wirewound, is 'carbon'",
        ),
    ],
)
def test_a_field_that_cannot_be_is_refused_in_one_sentence(
    fields: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(MapError) as refused:
        resistor(**fields)
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: rm.Setup(unplugged="Main"), "unplugged must be a list of texts, is 'Main'"),
        (lambda: rm.Setup(unplugged=[3]), "unplugged must be a list of texts, is a list"),
        (lambda: rm.Switch("S1", "A", "B", closed=1), "closed must be true or false, is 1"),
        (lambda: rm.Place(1, 2, turn=90.0), "turn must be a whole number, is 90.0"),
        (
            lambda: rm.Rail("A", order=-(MAX_WHOLE + 1)),
            "order must be at most 9007199254740992 either way, is -9007199254740993",
        ),
        (
            lambda: rm.PassTransistor("Q1", "C", "B", "E", polarity="both"),
            "polarity must be npn or pnp, is 'both'",
        ),
    ],
)
def test_so_is_one_of_any_other_type(make: Any, sentence: str) -> None:
    with pytest.raises(MapError) as refused:
        make()
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    "ohms", [150, 150.0, np.float32(150), np.float64(150), np.int64(150), Fraction(150)]
)
def test_any_real_number_becomes_a_plain_float(ohms: Any) -> None:
    assert type(resistor(ohms=ohms).ohms) is float
    assert resistor(ohms=ohms) == resistor(ohms=150.0)


def test_whole_numbers_and_lists_become_plain() -> None:
    assert type(rm.Rail("A", order=np.int32(3)).order) is int
    assert rm.Setup(unplugged=["Main"]).unplugged == ("Main",)


def test_values_at_their_limits_are_good() -> None:
    assert resistor(tolerance_pct=0, ohms=5e-324).tolerance_pct == 0
    assert resistor(tolerance_pct=100, ohms=1.7e308).tolerance_pct == 100
    assert rm.Rail("A", order=MAX_WHOLE).order == MAX_WHOLE


@pytest.mark.parametrize("kind", DOCUMENT_KINDS)
def test_every_number_of_every_kind_keeps_its_limits(kind: type) -> None:
    """The quick test of the constructors and the sentences of the reader agree at the limits."""
    tried = 0
    for name, field in fields_of(kind).items():
        for option in options_of(field.type):
            if not isinstance(option, inspect.FloatType):
                continue
            assert option.gt in (None, 0)
            for limit, outside in ((option.gt, 0.0), (option.ge, -5e-324), (option.le, 1e9)):
                if limit is not None:
                    tried += 1
                    assert complaint(name, outside, field.type)
                    with pytest.raises(MapError):
                        _with_one_field(kind, name, outside)
            with pytest.raises(MapError, match="must be a finite number"):
                _with_one_field(kind, name, math.nan)
    assert tried or kind in (rm.Place, rm.Known)


def _with_one_field(kind: type, name: str, value: float) -> object:
    required = {
        other: "x" if isinstance(field.type, inspect.StrType) else 1.0
        for other, field in fields_of(kind).items()
        if field.required
    }
    return kind(**{**required, name: value})


@given(st.data())
def test_no_good_value_is_complained_of(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(DOCUMENT_KINDS))
    for name, field in fields_of(kind).items():
        if any(
            isinstance(o, inspect.StructType | inspect.DictType | inspect.VarTupleType)
            for o in options_of(field.type)
        ):
            continue
        assert complaint(name, data.draw(values(field.type)), field.type) is None


@given(names)
def test_a_name_may_be_in_any_script(name: str) -> None:
    check_name(name, "the name")


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("", "the name must not be empty"),
        (" ", "the name must not be empty"),
        ("\u2003", "the name must not be empty"),
        (7, "the name must be text, is 7"),
        (None, "the name must be text, is nothing"),
        (" R1", "the name ' R1' must not begin or end with a blank"),
        ("R1\n", r"the name 'R1\n' must not begin or end with a blank"),
        ("R\x071", r"the name 'R\x071' holds a character that cannot be printed"),
        ("R\u202e1", r"the name 'R\u202e1' holds a character that cannot be printed"),
        ("R\ud8001", r"the name 'R\ud8001' holds a character that cannot be printed"),
        ("R" * 121, "the name is longer than 120 characters"),
    ],
)
def test_a_name_that_cannot_be_written_down_is_refused(name: object, sentence: str) -> None:
    with pytest.raises(MapError) as refused:
        check_name(name, "the name")
    assert str(refused.value) == sentence


def test_a_name_of_120_characters_is_good() -> None:
    check_name("R" * 120, "the name")


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.binary(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner) | st.tuples(inner),
    )
)
def test_whatever_is_shown_stays_short_and_on_one_line(value: object) -> None:
    assert show(value).isprintable()
    # Each character may need ten to be written down: \U0010ffff.
    assert len(show(value)) <= 600


def test_a_number_too_long_to_print_is_shown_all_the_same() -> None:
    assert show(10**5000) == "a number with too many digits"
    assert show("x" * 1000) == repr("x" * 57 + "...")
