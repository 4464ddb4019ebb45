"""The cells of the parts table: values as a bench writes them, kinds as it guesses them."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from strategies import parts

import railmap as rm
from railmap.bench.part_cells import exact, read_cell, write_cell
from railmap.bench.part_columns import (
    COLUMNS,
    SPECS,
    guess_kind,
    kind_named,
    label_in,
    spec_of,
)
from railmap.bench.parts_table import hint
from railmap.errors import MapError, RailmapError
from railmap.figures import POINT, Figures
from railmap.model.checks import fields_of
from railmap.model.kinds import KINDS
from railmap.units import parse


@pytest.mark.parametrize(
    ("kind", "column", "text", "wanted"),
    [
        ("Resistor", "drawn", "4k7", {"ohms": 4700.0}),
        ("Resistor", "drawn", "150R", {"ohms": 150.0}),
        ("Resistor", "drawn", "0,47", {"ohms": 0.47}),
        ("Resistor", "rating", "1/2W", {"rated_watts": 0.5}),
        ("Resistor", "rating", "1 1/2 W", {"rated_watts": 1.5}),
        ("Resistor", "rating", "22 W", {"rated_watts": 22.0}),
        ("Resistor", "limit", "250", {"max_volts": 250.0}),
        ("Resistor", "technology", "Metal Oxide", {"technology": "metal oxide"}),
        ("Capacitor", "drawn", "4700u", {"farads": 4.7e-3}),
        ("Capacitor", "rating", "50V", {"rated_volts": 50.0, "rated_ripple_amps": None}),
        ("Capacitor", "rating", "50 V 1,2 A", {"rated_volts": 50.0, "rated_ripple_amps": 1.2}),
        ("Capacitor", "polarised", "no", {"polarised": False}),
        ("Winding", "drawn", "26.5 V 2R", {"volts_rms": 26.5, "ohms": 2.0}),
        ("Winding", "drawn", "26,5", {"volts_rms": 26.5, "ohms": 0.0}),
        ("Source", "drawn", "-24V 0R5", {"volts": -24.0, "ohms": 0.5}),
        ("Diode", "rating", "200V 1A", {"rated_amps": 1.0, "rated_inverse_volts": 200.0}),
        ("Regulator", "drawn", "-12 V iq 5 mA", {"volts": -12.0, "quiescent_amps": 0.005}),
        ("Zener", "drawn", "6.7V 5R", {"zener_volts": 6.7, "ohms": 5.0}),
        ("Choke", "drawn", "1.5 H 50 ohm", {"henries": 1.5, "ohms": 50.0}),
        ("PassTransistor", "drawn", "80 PNP", {"gain": 80.0, "polarity": "pnp"}),
        ("PassTransistor", "rating", "40W 3A", {"rated_watts": 40.0, "rated_amps": 3.0}),
        ("Link", "drawn", "accessory", {"ohms": 0.0, "accessory": True}),
        ("Switch", "drawn", "open", {"closed": False, "ohms": 0.0}),
        ("Fuse", "rating", "0.5A fast", {"rated_amps": 0.5, "slow": False}),
        ("Rail", "drawn", "-28", {"label_volts": -28.0}),
        ("Rail", "rating", "5 %", {"band_pct": 5.0}),
        ("Rail", "rating", "", {"band_pct": 10.0}),
        ("Rail", "order", "3", {"order": 3}),
        ("Board", "drawn", "186 x 261", {"width_mm": 186.0, "height_mm": 261.0}),
    ],
)
def test_cells_read_what_a_bench_writes(kind, column, text, wanted) -> None:
    assert read_cell(spec_of(kind), column, text) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("105mA at 27.5V resistive", ("amps", 0.105, 27.5, "resistive")),
        ("resistive 105 mA @ 27,5", ("amps", 0.105, 27.5, "resistive")),
        ("0.1A", ("amps", 0.1, None, "")),
        ("24mA@13.8V lamp", ("amps", 0.024, 13.8, "lamp")),
        ("45mA constant", ("amps", 0.045, None, "steady")),
        ("4k7 ohm", ("ohms", 4700.0, None, "")),
        ("2W", ("watts", 2.0, None, "")),
    ],
)
def test_a_load_in_one_cell(text, wanted) -> None:
    found = read_cell(spec_of("Load"), "drawn", text)
    given_by, value, at_volts, law = wanted
    assert found[given_by] == pytest.approx(value)
    assert [found[n] for n in ("amps", "ohms", "watts") if n != given_by] == [None, None]
    assert (found["at_volts"], found["law"]) == (at_volts, law)


@pytest.mark.parametrize(
    ("kind", "column", "text", "reason"),
    [
        ("Resistor", "drawn", "abc", "'abc' cannot be read as ohms; write it like 4k7 or 150R"),
        ("Resistor", "drawn", "-33", "ohms must be above 0, is -33"),
        ("Resistor", "drawn", "10m", "'10m' could be 10 mΩ or 10 MΩ, since m is milli but is often"
         " written for M; write 0R01 or 10M"),
        ("Resistor", "rating", "2V", "'2V' is in volts; watts are wanted here"),
        ("Resistor", "limit", "0", "highest volts must be above 0, is 0"),
        ("Resistor", "technology", "wood", "'wood' cannot be read here; write carbon composition,"
         " carbon film, fusible, metal film, metal oxide or wirewound"),
        ("Capacitor", "polarised", "maybe", "'maybe' cannot be read here; write yes or no"),
        ("Capacitor", "rating", "50V 3W", "'50V 3W' cannot be read here; write it like 50V 1.2A"),
        ("Winding", "drawn", "26.5V 2W", "'26.5V 2W' cannot be read here; write it like 26.5V 2R"),
        ("Load", "drawn", "24", "'24' does not say of what; write it like 105mA, 330R or 2W"),
        ("Load", "drawn", "24mA lamp steady", "lamp and steady cannot both be"),
        ("Load", "drawn", "24mA at", "a value is wanted behind 'at'"),
        ("Load", "drawn", "24mA at 5W", "'5W' is in watts; volts are wanted here"),
        ("Load", "drawn", "plenty", "'plenty' cannot be read here; write it like 105mA at 27.5V"
         " resistive"),
        ("Rail", "order", "1.5", "'1.5' is no whole number"),
        ("Rail", "rating", "-5", "band must be at least 0, is -5"),
        ("Board", "drawn", "wide", "'wide' cannot be read here; write it like 160mm x 100mm"),
        ("Converter", "efficiency", "2", "efficiency must be above 0 and at most 1, is 2"),
    ],
)  # fmt: skip
def test_bad_cells_say_why(kind, column, text, reason) -> None:
    with pytest.raises(RailmapError) as error:
        read_cell(spec_of(kind), column, text)
    assert str(error.value) == reason


@given(parts(), st.sampled_from([POINT, Figures(",")]))
def test_every_cell_comes_back_as_it_was_written(part, style) -> None:
    spec = SPECS[part.kind]
    for column in spec.cells:
        text = write_cell(part, column, style)
        for name, value in read_cell(spec, column, text, style).items():
            assert value == getattr(part, name), column


@given(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["ohm", "F", "V", "A", "W", "C", "%"]),
)
@example(0.1 + 0.2, "ohm")
def test_exact_values_lose_no_digit(value, unit) -> None:
    assert parse(exact(value, unit), unit) == value


def test_every_field_of_every_kind_has_one_column() -> None:
    for kind in KINDS:
        spec = SPECS[kind.__name__]
        held = [slot.field for cell in spec.cells.values() for slot in cell.slots]
        held += [*spec.pins.values(), "ref", "board", "place", "fitted", "found"]
        # What was known before is history, not a cell.
        assert sorted([*held, "earlier"]) == sorted(fields_of(kind))
        assert set(spec.cells) <= set(COLUMNS)


@pytest.mark.parametrize(
    ("ref", "kind"),
    [
        ("R101", "Resistor"), ("C3", "Capacitor"), ("CR1", "Diode"), ("D1", "Diode"),
        ("ZD2", "Zener"), ("VZ1", "Zener"), ("VR1", "Zener"), ("U1", "Regulator"), ("L1", "Choke"),
        ("T1A", "Winding"), ("Q3", "PassTransistor"), ("F1", "Fuse"), ("S1", "Switch"),
        ("J1", "Link"), ("P1", "Link"), ("X1", "Load"), ("DS1", "Load"), ("V1", "Source"),
        ("r7", "Resistor"), ("+29", "Rail"), ("-6.8V", "Rail"), ("?1", ""), ("", ""),
    ],
)  # fmt: skip
def test_the_kind_is_guessed_from_the_class_letters(ref, kind) -> None:
    """Class letters of IEEE 315, from memory; V, X and ZD are not from it."""
    assert guess_kind(ref) == kind


def test_the_name_of_a_node_means_its_rail() -> None:
    assert guess_kind("P1", ["P0", "P1"]) == "Rail"


def test_kinds_by_name() -> None:
    for spec in SPECS.values():
        assert kind_named(spec.word) == kind_named(spec.name) == spec.name
    assert (kind_named("cap"), kind_named("linear"), kind_named(" LOAD ")) == (
        "Capacitor", "Regulator", "Load",
    )  # fmt: skip
    with pytest.raises(MapError, match=r"^'s' could be Source or Switching converter or Switch$"):
        kind_named("s")


def test_label_in_a_name() -> None:
    assert [label_in(name) for name in ("+29", "−17V", "+6,8", "29", "+A", "P1")] == [
        29.0, -17.0, 6.8, None, None, None,
    ]  # fmt: skip


def test_hints_name_what_a_cell_takes() -> None:
    for spec in SPECS.values():
        for column in COLUMNS:
            said = hint(spec, column)
            assert said.endswith(".")
            assert "_" not in said
    assert hint(None, "drawn") == ""
    assert hint(spec_of("Load"), "third") == "A load has nothing here."


@pytest.mark.parametrize("ohms", [1000.0, 1500.0, 330.0, 1e6, 0.47])
def test_a_load_in_ohms_comes_back_in_ohms(ohms: float) -> None:
    load = rm.Load("L1", "A", "0V", ohms=ohms, at_volts=5.0)
    text = write_cell(load, "drawn")
    assert read_cell(spec_of("Load"), "drawn", text)["ohms"] == ohms
