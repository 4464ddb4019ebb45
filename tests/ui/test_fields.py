"""What can be written on a card, and how values are put into words."""

import msgspec
import pytest

import railmap as rm
from railmap.errors import UnitError
from railmap.figures import POINT, Figures
from railmap.model.board import Mark, Photo
from railmap.model.kinds import KINDS
from railmap.model.railmap import About
from railmap.ui.card.fields import Field, fields_of, part_fields
from railmap.ui.faces import rail_texts, value_text, volts_text

ALL_FIELDS = [
    (kind, field)
    for kind, fields in [
        *((kind, part_fields(kind)) for kind in KINDS),
        (rm.Rail, fields_of(rm.Rail, frozenset())),
        (rm.Board, fields_of(rm.Board, frozenset({"photo", "marks"}))),
        (Mark, fields_of(Mark, frozenset())),
        (Photo, fields_of(Photo, frozenset({"jpeg"}))),
        (About, fields_of(About, frozenset())),
    ]
    for field in fields
]
NAMES = [f"{kind.__name__}.{field.name}" for kind, field in ALL_FIELDS]


@pytest.mark.parametrize("style", [POINT, Figures(",")], ids=["point", "comma"])
@pytest.mark.parametrize(("kind", "field"), ALL_FIELDS, ids=NAMES)
def test_every_field_reads_what_it_writes(
    kind: type[msgspec.Struct], field: Field, style: Figures
) -> None:
    if field.form == "number":
        for value in (4.7, 0.015, 82.0, 0.5, 1.234):
            assert field.read(field.write(value, style), style) == pytest.approx(value)
    elif field.form == "whole":
        assert field.read(field.write(12, style), style) == 12
    elif field.form == "text":
        assert field.read(field.write(" a note ", style), style) == "a note"
    elif field.form == "choice":
        assert all(field.say(choice) for choice in field.choices)
    else:
        assert field.form == "yes"
    assert field.label[:1].isalpha()
    if field.optional:
        assert field.write(None, style) == ""
        assert field.read("  ", style) is None


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_value_of_a_kind_is_on_its_card(kind: type[rm.Part]) -> None:
    apart = {"place", "fitted", "found", "earlier", "board", "ref", *kind.pins}
    assert {field.name for field in part_fields(kind)} | apart == set(kind.__struct_fields__)


def test_half_a_step_is_refused_for_a_whole_number() -> None:
    order = next(field for field in fields_of(rm.Rail, frozenset()) if field.name == "order")
    assert order.read("3", POINT) == 3
    with pytest.raises(UnitError, match=r"'2\.5' is no whole number"):
        order.read("2.5", POINT)


# Words


def test_volts_in_words() -> None:
    assert volts_text(29.114, POINT) == "+29.11 V"
    assert volts_text(-29.116, POINT) == "−29.12 V"
    assert volts_text(0.0004, POINT) == "0.00 V"
    assert volts_text(331.26, POINT) == "+331.3 V"
    assert volts_text(float("nan"), POINT) == "–"


def test_values_in_words() -> None:
    assert value_text(rm.Resistor("R1", "A", "B", ohms=4700), POINT) == "4k7"
    assert value_text(rm.Load("L1", "A", "B", watts=0.5), POINT) == "0.5W"
    assert value_text(rm.Switch("S1", "A", "B", closed=False), POINT) == "open"
    assert value_text(rm.Fuse("F1", "A", "B", rated_amps=0.5), POINT) == "500mA"
    assert value_text(rm.Fuse("F1", "A", "B"), POINT) == ""
    assert value_text(rm.PassTransistor("Q1", "C", "B", "E", gain=40), POINT) == "β 40"


def test_labels_in_words(divider: rm.RailMap) -> None:
    divider.add(rm.Resistor("R8", "X", "Y", ohms=10))
    divider.add(rm.Resistor("R9", "Y", "X", ohms=10))
    solution = rm.solve(divider)
    assert rail_texts(solution, "A", "+6", POINT) == ("+6  +6.00 V", "+6 +6.0")
    assert rail_texts(solution, "X", "X", POINT) == ("X  no path to 0 V", "X –")
    assert rail_texts(None, "A", "+6", POINT) == ("+6", "+6")
