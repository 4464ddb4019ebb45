"""What comes out of a solution: signs of currents, volts between nodes, heat, order, no figures."""

import dataclasses

import numpy as np
import pytest

import railmap as rm


@pytest.fixture
def divider(map_of):
    m = map_of(
        rm.Source("V1", "RAW", "0V", volts=9, ohms=10),
        rm.Resistor("R1", "RAW", "A", ohms=90, rated_watts=1, rated_c=70, zero_c=155),
        rm.Resistor("R2", "A", "0V", ohms=200, rated_watts=0.5),
        rm.Capacitor("C1", "A", "0V", farads=1e-6, rated_volts=10),
    )
    m.add_rail("A", name="+6", label_volts=6)
    return m


def test_volts(divider):
    s = rm.solve(divider)
    assert s.volts("A") == s.volts("+6") == pytest.approx(6.0)
    assert s.volts("RAW", "A") == pytest.approx(2.7)
    assert s.volts("A", "RAW") == -s.volts("RAW", "A")
    assert s.volts("0V") == s.volts("A", "A") == 0.0
    assert s.volts("RAW", "+6") == s.volts("RAW", "A")


def test_a_node_that_nothing_conducts_to(divider):
    divider.add(rm.Capacitor("C2", "Z", "0V", farads=1e-6))
    s = rm.solve(divider)
    assert np.isnan(s.volts("Z"))
    assert s.volts("Z", "Z") == 0.0
    part = s.part("C2")
    assert np.isnan(part.volts)
    assert (part.amps, part.watts) == (0.0, 0.0)
    assert np.isnan(part.pin_volts["plus"])
    assert part.pin_volts["minus"] == 0.0


def test_zero_volts_is_there_even_in_an_empty_map():
    s = rm.solve(rm.RailMap())
    assert (s.status, s.volts("0V"), s.power_in, s.hottest()) == ("solved", 0.0, 0.0, [])


@pytest.mark.parametrize("name", ["B", "", "+5"])
def test_nodes_that_are_not_there(divider, name):
    s = rm.solve(divider)
    for ask in (lambda: s.volts(name), lambda: s.volts("A", name), lambda: s.ripple(name)):
        with pytest.raises(rm.MapError, match="there is no node or rail"):
            ask()


def test_parts_that_are_not_there(divider):
    with pytest.raises(rm.MapError, match="there is no part 'R9' in the map"):
        rm.solve(divider).part("R9")


def test_a_part(divider):
    part = rm.solve(divider).part("R1")
    assert (part.volts, part.amps, part.watts) == pytest.approx((2.7, 0.03, 0.081))
    assert part.pin_amps == pytest.approx({"a": 0.03, "b": -0.03})
    assert part.pin_volts == pytest.approx({"a": 8.7, "b": 6.0})
    assert part.stress == pytest.approx(0.081)
    assert part.delivered_watts == 0.0
    assert (part.amps_rms, part.amps_peak, part.volts_peak) == pytest.approx((0.03, 0.03, 2.7))
    assert part.checks == (rm.Check("power", "W", part.watts, 1.0, part.watts),)


def test_a_source(divider):
    s = rm.solve(divider)
    part = s.part("V1")
    assert part.amps == pytest.approx(0.03)
    assert part.delivered_watts == pytest.approx(9 * 0.03)
    assert part.watts == pytest.approx(0.03**2 * 10)
    assert np.isnan(part.stress)
    assert s.power_in == pytest.approx(0.27)
    assert s.power_out == pytest.approx(0.27)


def test_a_source_that_is_charged_counts_as_out(solved):
    s = solved(
        rm.Source("V1", "A", "0V", volts=12, ohms=1), rm.Source("V2", "A", "0V", volts=6, ohms=1)
    )
    assert s.part("V2").amps == pytest.approx(-3)
    assert s.part("V2").delivered_watts == pytest.approx(-18)
    assert s.power_in == pytest.approx(36)
    assert s.power_out == pytest.approx(9 + 9 + 18)


SIGNS = {
    "regulator": (rm.Regulator("X", "IN", "OUT", "0V", volts=5), 0.1, 15.0),
    "converter": (rm.Converter("X", "IN", "OUT", "0V", volts=5), 0.1, 15.0),
    "bridge": (rm.Bridge("X", "IN", "0V", "OUT", "0V"), (20 - 0.75) / 50.05, 19.23),
    "diode": (rm.Diode("X", "IN", "OUT"), (20 - 0.75) / 50.05, 0.769),
    "transistor": (
        rm.PassTransistor("X", "IN", "IN", "OUT"),
        (20 - 0.7) / 50.05 * 50 / 51,
        0.719,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SIGNS)
def test_current_is_that_out_of_the_output_and_volts_those_across(solved, name):
    part, amps, volts = SIGNS[name]
    s = solved(rm.Source("V1", "IN", "0V", volts=20), part, rm.Resistor("R1", "OUT", "0V", ohms=50))
    assert s.part("X").amps == pytest.approx(amps, rel=1e-3)
    assert s.part("X").volts == pytest.approx(volts, rel=1e-3)


def test_arrays_are_in_the_order_of_the_parts(divider):
    s = rm.solve(divider)
    assert s.refs == ["V1", "R1", "R2", "C1"]
    for name, values in (
        ("volts", s.part_volts), ("amps", s.part_amps), ("watts", s.watts), ("stress", s.stress)
    ):  # fmt: skip
        expected = [getattr(s.part(ref), name) for ref in s.refs]
        assert np.array_equal(values, expected, equal_nan=True)


def test_hottest_first_and_only_what_has_a_limit(divider):
    s = rm.solve(divider)
    assert s.hottest() == ["C1", "R2", "R1"]
    assert [round(s.part(ref).stress, 3) for ref in s.hottest()] == [0.6, 0.36, 0.081]


def test_equals_keep_the_order_of_the_map(map_of):
    m = map_of(rm.Source("V1", "A", "0V", volts=10))
    for ref in ("R3", "R1", "R2"):
        m.add(rm.Resistor(ref, "A", "0V", ohms=100, rated_watts=2))
    assert rm.solve(m).hottest() == ["R3", "R1", "R2"]


def test_nothing_is_written_back(divider):
    before = divider.document()
    s = rm.solve(divider, change=rm.what_if(R1=180))
    assert divider.document() == before
    with pytest.raises(dataclasses.FrozenInstanceError):
        s.status = "fine"


def test_without_ripple(divider):
    s = rm.solve(divider)
    ripple = s.ripple("+6")
    assert (ripple.volts_pp, ripple.low_volts, ripple.high_volts) == pytest.approx((0, 6, 6))
    assert np.isnan(ripple.hertz)
    assert s.volts_rms("A") == pytest.approx(6)
    assert not s.is_alternating("A")


def test_effective_volts_of_a_negative_rail(solved):
    s = solved(rm.Source("V1", "0V", "N", volts=9))
    assert s.volts_rms("N") == 9


UNSOLVED = (
    rm.Source("V1", "A", "0V", volts=12), rm.Source("V2", "A", "0V", volts=11),
    rm.Resistor("R1", "A", "B", ohms=10, rated_watts=1), rm.Diode("D1", "B", "0V"),
)  # fmt: skip


def test_without_figures_there_are_none(map_of):
    s = rm.solve(map_of(*UNSOLVED))
    assert (s.status, s.has_figures) == ("contradiction", False)
    assert np.isnan(s.volts("A"))
    assert np.isnan(s.volts("0V"))
    for values in (s.part_volts, s.part_amps, s.watts, s.stress):
        assert np.isnan(values).all()
    part = s.part("R1")
    assert np.isnan([*part.pin_amps.values(), *part.pin_volts.values()]).all()
    assert np.isnan(part.checks[0].ratio)
    assert s.hottest() == []
    assert np.isnan(s.ripple("A").volts_pp)


def test_where_a_current_is_taken_and_which_way_it_counts(divider):
    divider.add(rm.Regulator("U1", "RAW", "OUT", "0V", volts=5))
    s = rm.solve(divider)
    for ref, pin, sign in (("V1", "plus", -1.0), ("R1", "a", 1.0), ("U1", "output", -1.0)):
        number = s.network.part_index[ref]
        assert s.current_sign(number) == sign
        flat = s.operating.pin_amps[s.current_pin(number)]
        assert flat == s.part(ref).pin_amps[pin]
        assert s.part(ref).amps == sign * flat


def test_beside_a_winding_that_nothing_joins_to_it_a_rail_has_no_ripple(divider):
    divider.add(rm.Winding("T1", "S", "0V", volts_rms=12, ohms=1))
    divider.add(rm.Resistor("R3", "S", "0V", ohms=11))
    ripple = rm.solve(divider).ripple("+6")
    assert ripple.volts_pp == pytest.approx(0, abs=1e-9)
    assert np.isnan(ripple.hertz)


def test_an_open_part_has_volts_but_neither_current_nor_heat(divider):
    part = rm.solve(divider, change=rm.what_if(R1=rm.OPEN)).part("R1")
    assert (part.volts, part.amps, part.watts) == pytest.approx((9.0, 0.0, 0.0))


def test_a_short_part_has_current_but_neither_volts_nor_heat(divider):
    part = rm.solve(divider, change=rm.what_if(R1=rm.SHORT)).part("R1")
    assert (part.volts, part.amps, part.watts) == pytest.approx((0.0, 9 / 210, 0.0))


def test_a_short_regulator_joins_input_and_output(divider):
    divider.add(rm.Regulator("U1", "RAW", "OUT", "0V", volts=5))
    divider.add(rm.Resistor("R3", "OUT", "0V", ohms=1000))
    s = rm.solve(divider, change=rm.what_if(U1=rm.SHORT))
    assert s.volts("RAW", "OUT") == 0.0
    assert s.part("U1").amps == pytest.approx(s.part("R3").amps)
    assert s.part("U1").pin_amps["common"] == 0.0


@pytest.fixture
def two_boards():
    """A reservoir on one board and, behind a plug, a dropper and a capacitor on another."""
    m = rm.RailMap(mains_hertz=50)
    m.add_board("Amplifier", 100, 100)
    for part in (
        rm.Winding("T1", "X", "Y", volts_rms=20, ohms=1), rm.Bridge("B1", "X", "Y", "P", "0V"),
        rm.Capacitor("C1", "P", "0V", farads=1e-3, rated_volts=35),
        rm.Resistor("R1", "P", "0V", ohms=100),
        rm.Resistor("R2", "P", "Q", ohms=100, rated_watts=1, board="Amplifier"),
        rm.Capacitor("C2", "Q", "Z", farads=1e-5, rated_volts=35, board="Amplifier"),
        rm.Diode("D1", "0V", "Q", rated_inverse_volts=50, board="Amplifier"),
        rm.Link("K1", "Z", "0V", board="Amplifier"),
    ):  # fmt: skip
        m.add(part)
    return m


def test_what_nothing_conducts_to_has_no_peaks_and_no_stress(two_boards):
    s = rm.solve(two_boards, change=rm.what_if(unplugged=["Amplifier"]))
    for ref in ("R2", "C2", "D1", "K1"):
        part = s.part(ref)
        assert np.isnan([part.volts, part.volts_peak]).all()
        assert (part.amps, part.watts, part.amps_rms, part.amps_peak) == (0, 0, 0, 0)
    assert np.isnan([s.part("C2").stress, s.part("C2").checks[0].value]).all()
    assert np.isnan([s.part("D1").stress, s.part("D1").checks[0].value]).all()
    assert s.part("R2").stress == 0
    assert s.hottest()[0] == "C1"
    assert s.part("C1").volts_peak == pytest.approx(26, abs=1)


def test_an_open_part_on_live_nodes_keeps_its_peak_volts(two_boards):
    s = rm.solve(two_boards, change=rm.what_if(R1=rm.OPEN))
    assert s.part("R1").volts_peak == pytest.approx(s.part("C1").volts_peak)
    assert s.part("R1").watts == 0


def test_what_is_not_solved_has_no_figures_of_a_turn_either(two_boards):
    two_boards.add(rm.Winding("T2", "X", "Y", volts_rms=20))
    two_boards.add(rm.Winding("T3", "X", "Y", volts_rms=20))
    s = rm.solve(two_boards)
    assert (s.status, s.has_figures, s.turn) == ("contradiction", False, None)
    part = s.part("C1")
    for figure in (
        part.volts, part.amps, part.watts, part.stress, part.volts_peak, part.amps_rms,
        part.amps_peak, part.delivered_watts, s.volts("P"), s.ripple("P").volts_pp,
        s.volts_rms("P"),
    ):  # fmt: skip
        assert np.isnan(figure)


def test_a_short_across_a_source_with_resistance_delivers_nothing(map_of):
    one = rm.Source("V1", "A", "0V", volts=12, ohms=1)
    other = rm.Source("V2", "A", "0V", volts=9, ohms=1)
    s = rm.solve(map_of(one, other), change=rm.what_if(V2=rm.SHORT))
    assert s.part("V2").delivered_watts == 0
    assert s.part("V2").watts == pytest.approx(0)
    assert s.part("V1").delivered_watts == pytest.approx(144)
    assert s.power_in == pytest.approx(s.power_out)


def test_inverse_volts_of_a_bridge_are_those_of_a_diode_in_it(two_boards):
    s = rm.solve(two_boards, change=rm.what_if(B1={"rated_inverse_volts": 100}))
    check, top = s.part("B1").checks[0], s.part("C1").volts_peak
    assert check.what == "inverse voltage"
    # A diode that does not conduct holds off the reservoir and the one that does.
    assert check.value == pytest.approx(top + 0.8, abs=0.2)


def test_a_rail_behind_a_rectifier_does_not_alternate():
    m = rm.RailMap()
    for part in (
        rm.Winding("T1", "A", "0V", volts_rms=10, ohms=1), rm.Diode("D1", "A", "P"),
        rm.Resistor("R1", "P", "0V", ohms=100),
    ):  # fmt: skip
        m.add(part)
    s = rm.solve(m)
    # Without a reservoir the rail is bare half waves, and the diode leaks a little backwards.
    assert s.ripple("P").low_volts < 0
    assert s.is_alternating("A")
    assert not s.is_alternating("P")
