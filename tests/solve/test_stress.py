"""Derating lines against published ones, and what every kind of rating is held against."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import railmap as rm
from railmap.solve.stress import (
    DERATING_C,
    QUANTITIES,
    UNITS,
    allowed_watts,
    derated,
    derating_line,
    gather_limits,
    ratios,
    worst,
)
from railmap.solve.what_if import carry_out, what_if


def test_transistor_by_sedra_and_smith():
    # Sedra and Smith, Microelectronic Circuits, example 14.4: 2 W at 25 degrees, junction at most
    # 150 degrees; 1.6 W at 50 degrees.
    assert derated(2.0, 50, 25, 150) == pytest.approx(1.6)
    part = rm.PassTransistor("Q1", "C", "B", "E", rated_watts=2)
    assert derating_line(part) == (25, 150)
    assert allowed_watts(part, 50) == pytest.approx(1.6)


@pytest.mark.parametrize(
    ("rated_c", "zero_c", "ambient_c", "part_of_rating"),
    [
        # MIL-R-39007 (1991), wirewound power resistors: full to 25 degrees, none at 275 degrees;
        # scope text of that specification, read in public excerpts.
        (25, 275, 25, "1.000"),
        (25, 275, 70, "0.820"),
        (25, 275, 100, "0.700"),
        (25, 275, 150, "0.500"),
        # MIL-PRF-39007J (2005): none at 250 degrees; likewise.
        (25, 250, 70, "0.800"),
        (25, 250, 100, "0.667"),
        (25, 250, 150, "0.444"),
        # MIL-R-39005D, accurate wirewound resistors: full to 125 degrees, none at 145; likewise.
        (125, 145, 125, "1.000"),
        (125, 145, 135, "0.500"),
        # IEC 60115-1 with 70 and 155 degrees, from memory.
        (70, 155, 70, "1.000"),
        (70, 155, 100, "0.647"),
        (70, 155, 125, "0.353"),
        (70, 155, 155, "0.000"),
    ],
)
def test_derating_lines(rated_c, zero_c, ambient_c, part_of_rating):
    part = rm.Resistor("R1", "A", "B", ohms=1, rated_watts=10, rated_c=rated_c, zero_c=zero_c)
    assert allowed_watts(part, ambient_c) == pytest.approx(10 * float(part_of_rating), abs=0.005)


@given(
    rated_c=st.floats(-20, 150), span_c=st.floats(1, 200), first=st.floats(-50, 400),
    second=st.floats(-50, 400),
)  # fmt: skip
def test_a_derating_line_never_rises_and_stays_between_all_and_nothing(
    rated_c, span_c, first, second
):
    cool, warm = sorted((first, second))
    at_cool, at_warm = (derated(3.0, c, rated_c, rated_c + span_c) for c in (cool, warm))
    assert 0 <= at_warm <= at_cool <= 3.0


@pytest.mark.parametrize("technology", DERATING_C)
def test_a_technology_has_its_line_until_the_part_has_its_own(technology):
    part = rm.Resistor("R1", "A", "B", ohms=1, rated_watts=1, technology=technology)
    assert derating_line(part) == DERATING_C[technology]
    assert derating_line(part.changed(rated_c=40.0, zero_c=120.0)) == (40, 120)


def test_a_line_is_never_upside_down():
    part = rm.Resistor("R1", "A", "B", ohms=1, rated_watts=1, rated_c=200)
    assert derating_line(part) == (200, 201)


def test_without_a_rating_nothing_is_allowed_or_refused():
    assert allowed_watts(rm.Resistor("R1", "A", "B", ohms=1), 40) is None
    assert allowed_watts(rm.Load("L1", "A", "B", amps=1), 40) is None


CHECKED = {
    "source": (rm.Source("X", "A", "0V", volts=10, ohms=1, rated_amps=4), "current", 2.0, 0.5),
    "diode, current": (rm.Diode("X", "A", "B", rated_amps=1), "current", 0.9204, 0.9204),
    "diode, reversed": (
        rm.Diode("X", "B", "A", rated_inverse_volts=50),
        "inverse voltage",
        10,
        0.2,
    ),
    "bridge": (
        rm.Bridge("X", "A", "0V", "B", "0V", rated_inverse_volts=50),
        "inverse voltage",
        10,
        0.2,
    ),
    "capacitor": (
        rm.Capacitor("X", "A", "0V", farads=1e-3, rated_volts=16),
        "voltage",
        10,
        0.625,
    ),
    "resistor, power": (rm.Resistor("X", "A", "0V", ohms=50, rated_watts=8), "power", 2, 0.25),
    "resistor, volts": (rm.Resistor("X", "A", "0V", ohms=50, max_volts=40), "voltage", 10, 0.25),
    "choke": (rm.Choke("X", "A", "0V", henries=1, ohms=5, rated_amps=4), "current", 2, 0.5),
    "load": (rm.Load("X", "A", "0V", amps=0.1, max_volts=12.5), "voltage", 10, 0.8),
    "zener": (rm.Zener("X", "A", "0V", zener_volts=9.9, ohms=5, rated_watts=2), "power", 0.2, 0.1),
    "regulator, input": (
        rm.Regulator("X", "A", "B", "0V", volts=5, max_input_volts=40),
        "input voltage",
        10,
        0.25,
    ),
    "converter, input": (
        rm.Converter("X", "A", "B", "0V", volts=5, max_input_volts=40),
        "input voltage",
        10,
        0.25,
    ),
    "fuse": (rm.Fuse("X", "A", "C", rated_amps=8), "current", 2, 0.25),
    "link": (rm.Link("X", "A", "C", rated_amps=8), "current", 2, 0.25),
    "switch": (rm.Switch("X", "A", "C", rated_amps=8), "current", 2, 0.25),
}  # fmt: skip


@pytest.mark.parametrize("name", CHECKED)
def test_every_rating_is_held_against_what_the_part_does(name):
    part, what, value, ratio = CHECKED[name]
    m = rm.RailMap(ambient_c=20)
    m.add(part)
    m.add(rm.Resistor("R2", "B", "0V", ohms=10))
    m.add(rm.Resistor("R3", "C", "0V", ohms=5))
    if isinstance(part, rm.Source):
        m.add(rm.Resistor("R1", "A", "0V", ohms=4))
    else:
        m.add(rm.Source("V1", "A", "0V", volts=10))
    s = rm.solve(m)
    check = next(c for c in s.part("X").checks if c.what == what)
    assert check.unit == UNITS[QUANTITIES.index(what)]
    assert check.value == pytest.approx(value, rel=1e-2)
    assert check.ratio == pytest.approx(ratio, rel=1e-2)
    assert check.ratio == pytest.approx(check.value / check.allowed)
    assert s.part("X").stress == max(c.ratio for c in s.part("X").checks)


def test_air_of_the_board_counts():
    m = rm.RailMap(ambient_c=40)
    m.add_board("Hot", 100, 100, ambient_c=112.5)
    m.add_board("Plain", 100, 100)
    m.add(rm.Source("V1", "A", "0V", volts=10))
    for ref, board in (("R1", "Hot"), ("R2", "Plain"), ("R3", "")):
        m.add(rm.Resistor(ref, "A", "0V", ohms=100, rated_watts=2, board=board))
    s = rm.solve(m)
    assert [s.part(ref).stress for ref in ("R1", "R2", "R3")] == pytest.approx([1.0, 0.5, 0.5])
    assert s.hottest() == ["R1", "R2", "R3"]


def test_where_nothing_is_allowed_any_power_is_too_much():
    m = rm.RailMap(ambient_c=200)
    m.add(rm.Source("V1", "A", "0V", volts=10))
    m.add(rm.Resistor("R1", "A", "0V", ohms=100, rated_watts=2))
    m.add(rm.Resistor("R2", "B", "0V", ohms=100, rated_watts=2))
    s = rm.solve(m)
    assert s.part("R1").stress == np.inf
    assert s.part("R2").stress == 0.0


def test_the_worst_of_several_limits_counts():
    part = rm.Resistor("R1", "A", "0V", ohms=100, rated_watts=2, max_volts=11)
    m = rm.RailMap()
    m.add(part)
    limits = gather_limits(carry_out(m, what_if()))
    assert limits.part.tolist() == [0, 0]
    quantities = np.zeros((len(QUANTITIES), 1))
    quantities[QUANTITIES.index("power")] = 1.0
    quantities[QUANTITIES.index("voltage")] = 10.0
    found = ratios(limits, quantities)
    assert sorted(found) == pytest.approx([0.5, 10 / 11])
    assert worst(limits, found, 2)[0] == pytest.approx(10 / 11)
    assert np.isnan(worst(limits, found, 2)[1])


def test_a_figure_that_is_not_known_has_no_stress():
    m = rm.RailMap()
    m.add(rm.Resistor("R1", "A", "0V", ohms=100, rated_watts=2))
    limits = gather_limits(carry_out(m, what_if()))
    found = ratios(limits, np.full((len(QUANTITIES), 1), np.nan))
    assert np.isnan(worst(limits, found, 1)).all()


def test_a_part_out_of_the_circuit_bears_nothing(map_of):
    m = map_of(
        rm.Source("V1", "A", "0V", volts=10),
        rm.Resistor("R1", "A", "0V", ohms=10, rated_watts=2, max_volts=20),
    )
    part = rm.solve(m, change=rm.what_if(R1=rm.OPEN)).part("R1")
    assert part.watts == 0.0
    assert {c.what: c.ratio for c in part.checks} == {"power": 0.0, "voltage": 0.5}
