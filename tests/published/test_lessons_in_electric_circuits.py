"""Worked examples of an open textbook.

Source: T. R. Kuphaldt, *Lessons In Electric Circuits* (open book), Volume I, DC, and Volume III,
Semiconductors. Read in a public copy; chapters and figure files as named at each check.
"""

import pytest

import railmap as rm

# Volume I, chapter 12: temperature coefficient of copper a degree, from 20 degrees Celsius.
COPPER_PER_C = 0.004041


def results(s, refs, field):
    return [getattr(s.part(ref), field) for ref in refs]


@pytest.mark.parametrize(
    ("volts", "amps", "drops"),
    [
        # Printed (figures 00106 and 10099).
        (45, 2e-3, (10, 20, 15)),
        # Printed: the 40 V over R1. The rest is proportion.
        (180, 8e-3, (40, 80, 60)),
    ],
)
def test_unloaded_divider(solved, exactly, volts, amps, drops):
    # Volume I, chapter 6.
    s = solved(
        rm.Source("B1", "A", "0V", volts=volts),
        rm.Resistor("R1", "A", "B", ohms=5e3),
        rm.Resistor("R2", "B", "C", ohms=10e3),
        rm.Resistor("R3", "C", "0V", ohms=7.5e3),
    )
    assert s.part("B1").amps == exactly(amps)
    assert results(s, ("R1", "R2", "R3"), "volts") == exactly(list(drops))
    assert s.volts("C") == exactly(drops[2])
    assert s.volts("B") == exactly(drops[1] + drops[2])


def test_series_parallel_table(solved, printed, exactly):
    # Volume I, chapter 7 (figures 00130 and 10133).
    s = solved(
        rm.Source("B1", "A", "0V", volts=24),
        rm.Resistor("R1", "A", "B", ohms=100),
        rm.Resistor("R2", "A", "B", ohms=250),
        rm.Resistor("R3", "B", "0V", ohms=350),
        rm.Resistor("R4", "B", "0V", ohms=200),
    )
    total = s.part("B1").amps
    amps = [printed(text, 1e-3) for text in ("86.275", "34.510", "43.922", "76.863")]
    assert total == printed("120.78", 1e-3)
    assert s.part("R1").volts / total == printed("71.429")
    assert s.part("R3").volts / total == printed("127.27")
    assert 24 / total == printed("198.70")
    assert s.part("R2").volts == printed("8.6275")
    assert s.part("R4").volts == printed("15.373")
    assert results(s, ("R1", "R2", "R3", "R4"), "amps") == amps
    assert s.part("R1").volts == exactly(440 / 51)
    assert s.volts("B") == exactly(784 / 51)
    assert total == exactly(440 / 5100 + 440 / 12750)


TWO_SOURCES = (
    rm.Source("B1", "P", "0V", volts=28),
    rm.Resistor("R1", "P", "N", ohms=4),
    rm.Resistor("R2", "N", "0V", ohms=2),
    rm.Resistor("R3", "N", "Q", ohms=1),
    rm.Source("B2", "Q", "0V", volts=7),
)


def test_two_sources_three_resistors(solved, exactly):
    # Volume I, chapter 10: the same circuit by branch currents, mesh currents and Millman.
    # The powers are recomputed.
    s = solved(*TWO_SOURCES)
    assert s.volts("N") == exactly(8)
    assert results(s, ("R1", "R2", "R3"), "amps") == exactly([5, 4, 1])
    assert results(s, ("R1", "R2", "R3"), "volts") == exactly([20, 8, 1])
    assert results(s, ("R1", "R2", "R3"), "watts") == exactly([100, 32, 1])
    assert results(s, ("B1", "B2"), "delivered_watts") == exactly([140, -7])
    assert s.power_in == exactly(140)


def test_two_sources_by_superposition(solved, exactly):
    # Volume I, chapter 10: each source alone. R3's current is counted towards B2, so that it
    # comes out negative where the book counts it the other way.
    refs = ("R1", "R2", "R3")
    first = solved(*TWO_SOURCES, change=rm.what_if(B2=0.0))
    assert results(first, refs, "volts") == exactly([24, 4, 4])
    assert results(first, refs, "amps") == exactly([6, 2, 4])
    second = solved(*TWO_SOURCES, change=rm.what_if(B1=0.0))
    assert results(second, refs, "volts") == exactly([-4, 4, -3])
    assert results(second, refs, "amps") == exactly([-1, 2, -3])
    both = solved(*TWO_SOURCES)
    for ref in refs:
        assert both.part(ref).amps == exactly(first.part(ref).amps + second.part(ref).amps)


def test_two_sources_by_thevenin_and_norton(solved, exactly, ohms_between, printed):
    # Volume I, chapter 10: 11.2 V and 0.8 ohm seen by R2; 14 A into a short; all three resistors
    # in parallel make 571.43 milliohms.
    lifted = solved(*TWO_SOURCES, change=rm.what_if(R2=rm.OPEN))
    assert lifted.volts("N") == exactly(11.2)
    shorted = solved(*TWO_SOURCES, change=rm.what_if(R2=rm.SHORT))
    assert shorted.volts("N") == exactly(0)
    assert shorted.part("R1").amps - shorted.part("R3").amps == exactly(14)
    assert ohms_between([("N", "G", 4.0), ("N", "G", 1.0)], "N", "G") == exactly(0.8)
    edges = [("N", "G", 4.0), ("N", "G", 2.0), ("N", "G", 1.0)]
    assert ohms_between(edges, "N", "G") == printed("571.43", 1e-3)
    stand_in = solved(
        rm.Source("B1", "N", "0V", volts=11.2, ohms=0.8), rm.Resistor("R2", "N", "0V", ohms=2)
    )
    assert stand_in.part("R2").amps == exactly(4)


@pytest.mark.parametrize(
    ("load_ohms", "volts", "amps", "watts"),
    [
        (0.5, "4.308", "8.615", ("37.11", "59.38", "96.49")),
        (0.8, "5.600", "7.000", ("39.20", "39.20", "78.40")),
        (1.1, "6.484", "5.895", ("38.22", "27.80", "66.02")),
    ],
)
def test_maximum_power(solved, printed, exactly, load_ohms, volts, amps, watts):
    # Volume I, chapter 10 (figures 10204 to 10206). For 0.8 ohm 39.2 W is printed, and the other
    # columns follow from the load matching the source. Watts in the load, in the source's own
    # resistance, and in all.
    s = solved(
        rm.Source("B1", "N", "0V", volts=11.2, ohms=0.8),
        rm.Resistor("RL", "N", "0V", ohms=load_ohms),
    )
    assert s.volts("N") == printed(volts)
    assert s.part("RL").amps == printed(amps)
    found = (s.part("RL").watts, s.part("B1").watts, s.part("B1").delivered_watts)
    assert found == tuple(printed(text) for text in watts)
    assert s.part("RL").watts == exactly(11.2**2 * load_ohms / (0.8 + load_ohms) ** 2)


def test_unbalanced_bridge(solved, printed, exactly):
    # Volume I, chapter 10.
    s = solved(
        rm.Source("B1", "1", "0V", volts=24),
        rm.Resistor("R1", "1", "2", ohms=150),
        rm.Resistor("R2", "1", "3", ohms=50),
        rm.Resistor("R3", "3", "2", ohms=100),
        rm.Resistor("R4", "2", "0V", ohms=300),
        rm.Resistor("R5", "3", "0V", ohms=250),
    )
    amps = [printed(text, 1e-3) for text in ("42.299", "93.793", "16.552", "58.851", "77.241")]
    assert results(s, ("R1", "R2", "R3", "R4", "R5"), "amps") == amps
    assert s.part("B1").amps == printed("136.092", 1e-3)
    assert s.volts("1", "2") == printed("6.345")
    assert s.volts("1", "3") == printed("4.690")
    assert s.volts("3", "2") == printed("1.655")
    assert s.volts("2") == printed("17.655")
    assert s.volts("3") == printed("19.310")
    assert (s.volts("2"), s.volts("3")) == exactly((512 / 29, 560 / 29))


def test_bridge_as_delta(solved, printed, exactly):
    # Volume I, chapter 10 (figures 00251 and 10208 to 10211).
    s = solved(
        rm.Source("B1", "A", "0V", volts=10),
        rm.Resistor("R1", "A", "B", ohms=12),
        rm.Resistor("R2", "A", "C", ohms=18),
        rm.Resistor("R3", "B", "C", ohms=6),
        rm.Resistor("R4", "B", "0V", ohms=18),
        rm.Resistor("R5", "C", "0V", ohms=12),
    )
    refs = ("R1", "R2", "R3", "R4", "R5")
    volts = [printed(text) for text in ("4.706", "5.294", "0.58824", "5.294", "4.706")]
    amps = [printed(text, 1e-3) for text in ("392.16", "294.12", "98.04", "294.12", "392.16")]
    assert results(s, refs, "volts") == volts
    assert results(s, refs, "amps") == amps
    assert 10 / s.part("B1").amps == printed("14.571")
    assert s.part("B1").amps == printed("686.27", 1e-3)
    assert s.part("B1").amps == exactly(35 / 51)


def test_bridge_as_star(solved, exactly):
    # The same bridge with its upper delta turned into the star that the book finds: 6, 2, 3 ohms.
    s = solved(
        rm.Source("B1", "A", "0V", volts=10),
        rm.Resistor("RA", "A", "S", ohms=6),
        rm.Resistor("RB", "S", "B", ohms=2),
        rm.Resistor("RC", "S", "C", ohms=3),
        rm.Resistor("R4", "B", "0V", ohms=18),
        rm.Resistor("R5", "C", "0V", ohms=12),
    )
    assert 10 / s.part("B1").amps == exactly(102 / 7)
    assert (s.volts("B"), s.volts("C")) == exactly((90 / 17, 80 / 17))


def test_node_voltage_method(solved, printed, exactly):
    # Volume I, chapter 10. One line of the book prints the second source's current as +4 A; its
    # equations use -4 A, which belongs to the source of -4 V and is used here.
    s = solved(
        rm.Source("B1", "P", "0V", volts=10),
        rm.Resistor("R1", "P", "1", ohms=2),
        rm.Resistor("R2", "1", "0V", ohms=4),
        rm.Resistor("R3", "1", "2", ohms=2.5),
        rm.Resistor("R4", "2", "0V", ohms=5),
        rm.Resistor("R5", "2", "Q", ohms=1),
        rm.Source("B2", "Q", "0V", volts=-4),
    )
    assert s.volts("1") == printed("3.8095")
    assert s.volts("2") == printed("-1.5476")
    assert (s.volts("1"), s.volts("2")) == exactly((80 / 21, -65 / 42))


@pytest.mark.parametrize(
    ("wire_c", "load_volts", "wire_volts"), [(20, "12.5", "0.75"), (35, "12.42", "0.79")]
)
def test_copper_wires_get_warm(solved, printed, exactly, wire_c, load_volts, wire_volts):
    # Volume I, chapter 12: 14 V through two copper wires of 15 ohms at 20 degrees to 250 ohms.
    ohms = 15 * (1 + COPPER_PER_C * (wire_c - 20))
    s = solved(
        rm.Source("B1", "P", "0V", volts=14),
        rm.Resistor("W1", "P", "A", ohms=15),
        rm.Resistor("RL", "A", "B", ohms=250),
        rm.Resistor("W2", "B", "0V", ohms=15),
        change=rm.what_if(W1=ohms, W2=ohms),
    )
    assert s.part("RL").volts == printed(load_volts)
    assert results(s, ("W1", "W2"), "volts") == [printed(wire_volts)] * 2
    assert s.part("RL").amps == exactly(14 / (250 + 2 * ohms))
    if wire_c == 35:  # Recomputed with more digits than the book prints.
        assert s.part("W1").volts / s.part("W1").amps == printed("15.9092")
        assert s.part("RL").amps == printed("49.677", 1e-3)
        assert s.part("RL").volts == printed("12.4193")
        assert s.part("W2").volts == printed("0.7903")


def nearly(value):
    """Compare with a figure of an ideal zener.

    A zener of the map has a slope of a microhm at least and leaks through a gigaohm below its
    volts, which together move the figures below by less than a part in a million.
    """
    return pytest.approx(value, rel=1e-6)


def zener_regulator(solved, series_ohms, load_ohms=None):
    load = [] if load_ohms is None else [rm.Resistor("RL", "Z", "0V", ohms=load_ohms)]
    return solved(
        rm.Source("B1", "P", "0V", volts=45),
        rm.Resistor("R1", "P", "Z", ohms=series_ohms),
        rm.Zener("D1", "Z", "0V", zener_volts=12.6),
        *load,
    )


@pytest.mark.parametrize(
    ("series_ohms", "amps", "resistor_watts", "zener_watts"),
    [
        (1e3, ("32.4", 1e-3), ("1.0498", 1.0), ("408.24", 1e-3)),
        (100e3, ("324", 1e-6), ("10.498", 1e-3), ("4.0824", 1e-3)),
    ],
)
def test_zener_without_load(solved, printed, series_ohms, amps, resistor_watts, zener_watts):
    # Volume III, chapter 3, zener diodes (figures 13049 to 13055).
    s = zener_regulator(solved, series_ohms)
    assert s.volts("Z") == nearly(12.6)
    assert s.part("R1").volts == nearly(32.4)
    assert s.part("D1").amps == printed(*amps)
    assert s.part("R1").watts == printed(*resistor_watts)
    assert s.part("D1").watts == printed(*zener_watts)
    assert s.part("R1").watts == nearly(1049.76 / series_ohms)
    assert s.part("D1").watts == nearly(408.24 / series_ohms)


def test_zener_with_load(solved):
    # Volume III, chapter 3: 25.2 mA into the load of 500 ohms leave 7.2 mA to the zener.
    s = zener_regulator(solved, 1e3, 500)
    assert s.volts("Z") == nearly(12.6)
    assert s.part("RL").amps == nearly(25.2e-3)
    assert s.part("D1").amps == nearly(7.2e-3)
    assert s.part("R1").amps == nearly(32.4e-3)


def test_zener_drops_out(solved, printed):
    # Volume III, chapter 3: through 100 kilohms the same load starves the zener.
    s = zener_regulator(solved, 100e3, 500)
    assert s.part("R1").amps == printed("447.76", 1e-6)
    assert s.part("R1").volts == printed("44.776")
    assert s.volts("Z") == printed("224", 1e-3)
    assert s.volts("Z") == nearly(45 * 500 / 100_500)
    assert 0 <= s.part("D1").amps < 1e-9


def test_smallest_load_ohms_that_keep_the_zener_alive(solved, printed):
    # Volume III, chapter 3: 38.889 kilohms for a series resistor of 100 kilohms. At the limit and
    # below it the leak of 12.6 nA counts: it moves 12.6 V by 0.35 mV.
    limit = 12.6 / (32.4 / 100e3)
    at_limit = zener_regulator(solved, 100e3, limit)
    assert at_limit.volts("Z") / at_limit.part("RL").amps == printed("38.889", 1e3)
    assert at_limit.volts("Z") == pytest.approx(12.6, abs=4e-4)
    assert 0 <= at_limit.part("D1").amps < 13e-9
    lighter = zener_regulator(solved, 100e3, 1.01 * limit)
    assert lighter.volts("Z") == nearly(12.6)
    assert lighter.part("D1").amps == nearly(324e-6 * (1 - 1 / 1.01))
    heavier = zener_regulator(solved, 100e3, 0.99 * limit)
    divided = 45 * 0.99 * limit / (100e3 + 0.99 * limit)
    assert heavier.volts("Z") == pytest.approx(divided, abs=4e-4)
    assert divided < 12.52
    assert 0 <= heavier.part("D1").amps < 13e-9
