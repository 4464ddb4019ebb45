"""Worked examples of the US Navy's course on direct current.

Source: *Navy Electricity and Electronics Training Series, Module 1: Matter, Energy and Direct
Current*, NAVEDTRA 14173, September 1998 (a work of the US Government, public domain). Read in a
public copy; figures and pages as named at each check.
"""

import pytest

import railmap as rm

# Figs 3-19 to 3-21 (series strings) and the answer to question 21, chapter 3:
# source volts, ohms, amps, volts of each, watts of each, watts in all. All printed but the volts of
# each in the first string, which are Ohm's law.
STRINGS = [
    (120, (5, 10, 15), 4.0, (20, 40, 60), (80, 160, 240), 480),
    (90, (5, 10, 15), 3.0, (15, 30, 45), (45, 90, 135), 270),
    (50, (10, 10, 50, 30), 0.5, (5, 5, 25, 15), (2.5, 2.5, 12.5, 7.5), 25),
    (330, (25, 30), 6.0, (150, 180), (900, 1080), 1980),
]

# Fig. 3-36, p. 3-47, repeated on p. 3-118: load ohms, terminal volts, amps, efficiency in percent,
# to one decimal. The chart prints 61.6 V and 61.6 % at 8 ohms, rightly 61.5; and 1.9 A at 50 ohms,
# rightly 1.8.
REGULATION_CHART = [
    (1, "16.7", "16.7", "16.7"),
    (2, "28.6", "14.3", "28.6"),
    (3, "37.5", "12.5", "37.5"),
    (4, "44.4", "11.1", "44.4"),
    (5, "50.0", "10.0", "50.0"),
    (6, "54.5", "9.1", "54.5"),
    (7, "58.3", "8.3", "58.3"),
    (8, "61.5", "7.7", "61.5"),
    (9, "64.3", "7.1", "64.3"),
    (10, "66.7", "6.7", "66.7"),
    (20, "80.0", "4.0", "80.0"),
    (30, "85.7", "2.9", "85.7"),
    (40, "88.9", "2.2", "88.9"),
    (50, "90.9", "1.8", "90.9"),
]

# The same chart's load watts. It prints the product of the rounded volts and the rounded amps,
# given here third; the exact power is second. At 50 ohms it is 4.5 % too much, elsewhere at most
# 1.5 % off.
LOAD_POWER_CHART = [
    (1, 277.777777778, 278.9),
    (2, 408.163265306, 409.0),
    (3, 468.75, 468.8),
    (4, 493.827160494, 492.8),
    (5, 500.0, 500.0),
    (6, 495.867768595, 496.0),
    (7, 486.111111111, 483.9),
    (8, 473.372781065, 474.3),
    (9, 459.183673469, 456.5),
    (10, 444.444444444, 446.9),
    (20, 320.0, 320.0),
    (30, 244.897959184, 248.5),
    (40, 197.530864198, 195.6),
    (50, 165.289256198, 172.7),
]


@pytest.mark.parametrize(("volts", "ohms", "amps", "drops", "watts", "total"), STRINGS)
def test_series_strings(solved, exactly, volts, ohms, amps, drops, watts, total):
    nodes = ["TOP", *(f"N{k}" for k in range(1, len(ohms))), "0V"]
    string = [
        rm.Resistor(f"R{k + 1}", nodes[k], nodes[k + 1], ohms=ohm) for k, ohm in enumerate(ohms)
    ]
    s = solved(rm.Source("E1", "TOP", "0V", volts=volts), *string)
    assert s.part("E1").amps == exactly(amps)
    assert [s.part(r.ref).volts for r in string] == exactly(list(drops))
    assert [s.part(r.ref).watts for r in string] == exactly(list(watts))
    assert s.part("E1").delivered_watts == exactly(total)
    assert s.power_out == exactly(total)


@pytest.mark.parametrize(("first_ohms", "amps"), [(60, 1.5), (40, 2.0)])
def test_opposing_sources_in_one_loop(solved, exactly, first_ohms, amps):
    # Fig. 3-27, p. 3-39, and the answers to questions 23 and 24: the source in effect is 120 V.
    s = solved(
        rm.Source("E1", "A", "0V", volts=180),
        rm.Resistor("R1", "A", "B", ohms=first_ohms),
        rm.Source("E2", "B", "C", volts=20),
        rm.Resistor("R2", "C", "D", ohms=20),
        rm.Source("E3", "D", "0V", volts=40),
    )
    assert s.part("R1").amps == exactly(amps)
    assert s.part("R1").volts + s.part("R2").volts == exactly(120)
    assert s.part("E1").delivered_watts == exactly(180 * amps)
    assert s.part("E2").delivered_watts == exactly(-20 * amps)
    assert s.part("E3").delivered_watts == exactly(-40 * amps)
    assert s.power_in == exactly(180 * amps)


def test_terminal_volts_of_a_source_with_resistance(solved, exactly):
    # Fig. 3-35, p. 3-46.
    s = solved(
        rm.Source("E1", "T", "0V", volts=15, ohms=1),
        rm.Resistor("R1", "T", "A", ohms=2),
        rm.Resistor("R2", "A", "B", ohms=4),
        rm.Resistor("R3", "B", "0V", ohms=0.5),
    )
    assert s.part("R1").amps == exactly(2)
    assert s.volts("T") == exactly(13)
    assert s.part("E1").volts == exactly(13)
    assert s.part("E1").watts == exactly(4)
    assert s.part("E1").delivered_watts == exactly(30)


def loaded_source(solved, volts, source_ohms, load_ohms):
    return solved(
        rm.Source("E1", "T", "0V", volts=volts, ohms=source_ohms),
        rm.Resistor("RL", "T", "0V", ohms=load_ohms),
    )


@pytest.mark.parametrize(("load_ohms", "volts", "amps", "percent"), REGULATION_CHART)
def test_regulation_chart(solved, printed, exactly, load_ohms, volts, amps, percent):
    s = loaded_source(solved, 100, 5, load_ohms)
    assert s.volts("T") == printed(volts)
    assert s.part("RL").amps == printed(amps)
    assert 100 * s.part("RL").watts / s.power_in == printed(percent)
    assert s.volts("T") == exactly(100 * load_ohms / (5 + load_ohms))


@pytest.mark.parametrize(("load_ohms", "watts", "watts_printed"), LOAD_POWER_CHART)
def test_load_power_chart(solved, exactly, load_ohms, watts, watts_printed):
    s = loaded_source(solved, 100, 5, load_ohms)
    assert s.part("RL").watts == exactly(watts)
    assert s.part("RL").watts == pytest.approx(
        watts_printed, rel=0.045 if load_ohms == 50 else 0.015
    )


def test_no_other_load_of_the_chart_takes_as_much_as_the_matched_one(solved):
    # What the chart is there to show: most power where load ohms equal source ohms.
    taken = {
        ohms: loaded_source(solved, 100, 5, ohms).part("RL").watts for ohms, *_ in LOAD_POWER_CHART
    }
    assert max(taken, key=taken.__getitem__) == 5


def test_efficiency_of_a_lightly_loaded_source(solved, exactly):
    # Answer to question 32: 25 V, 1 ohm inside, 49 ohms outside: 98 %.
    s = loaded_source(solved, 25, 1, 49)
    assert s.part("RL").watts == exactly(12.25)
    assert s.power_in == exactly(12.5)
    assert s.part("RL").watts / s.power_in == exactly(0.98)


def test_five_parallel_branches(solved, exactly):
    # Figs 3-50 to 3-53, pp. 3-72 to 3-77.
    ohms = (20, 30, 18, 18, 18)
    branches = [rm.Resistor(f"R{k + 1}", "BUS", "0V", ohms=r) for k, r in enumerate(ohms)]
    s = solved(rm.Source("E1", "BUS", "0V", volts=180), *branches)
    assert [s.part(r.ref).amps for r in branches] == exactly([9, 6, 10, 10, 10])
    assert s.part("E1").amps == exactly(45)
    assert s.part("E1").volts / s.part("E1").amps == exactly(4)
    assert [s.part(r.ref).watts for r in branches] == exactly([1620, 1080, 1800, 1800, 1800])
    assert s.power_in == exactly(8100)


def test_combination_circuit(solved, exactly):
    # Fig. 3-54, pp. 3-77 to 3-82. The 64.8 W of R2 is not legible in the copy; it is recomputed.
    s = solved(
        rm.Source("E1", "A", "0V", volts=60),
        rm.Resistor("R1", "A", "B", ohms=8),
        rm.Resistor("R2", "B", "0V", ohms=20),
        rm.Resistor("R3", "B", "0V", ohms=30),
    )
    r1, r2, r3 = (s.part(ref) for ref in ("R1", "R2", "R3"))
    assert 60 / s.part("E1").amps == exactly(20)
    assert (r1.amps, r2.amps, r3.amps) == exactly((3, 1.8, 1.2))
    assert (r1.volts, r2.volts, r3.volts) == exactly((24, 36, 36))
    assert (r1.watts, r2.watts, r3.watts) == exactly((72, 64.8, 43.2))
    assert s.power_in == exactly(180)


@pytest.mark.parametrize(
    ("ground", "volts"),
    [
        # Printed.
        ("A", {"A": 0, "B": 25, "C": 50, "D": 75, "E": 100}),
        # Printed: A, C, D, E.
        ("B", {"A": -25, "B": 0, "C": 25, "D": 50, "E": 75}),
        # Not printed; by the same steps of 25 V.
        ("C", {"A": -50, "B": -25, "C": 0, "D": 25, "E": 50}),
        ("E", {"A": -100, "B": -75, "C": -50, "D": -25, "E": 0}),
    ],
)
def test_moving_the_ground(solved, exactly, ground, volts):
    # Fig. 3-63, p. 3-93: 100 V over four times 50 ohms, 0.5 A, 25 V each, whatever is grounded.
    node = {name: "0V" if name == ground else name for name in "ABCDE"}
    string = [
        rm.Resistor(f"R{k + 1}", node[hot], node[cold], ohms=50)
        for k, (cold, hot) in enumerate(("AB", "BC", "CD", "DE"))
    ]
    s = solved(rm.Source("E1", node["E"], node["A"], volts=100), *string)
    assert {name: s.volts(node[name]) for name in "ABCDE"} == exactly(volts)
    for r in string:
        assert (s.part(r.ref).amps, s.part(r.ref).volts) == exactly((0.5, 25))
        assert s.part(r.ref).watts == exactly(12.5)
    assert s.power_in == exactly(50)


def bleeder_divider(solved, bleeder_ohms, series_ohms):
    return solved(
        rm.Source("ES", "SUPPLY", "0V", volts=100),
        rm.Resistor("R2", "SUPPLY", "RAIL", ohms=series_ohms),
        rm.Resistor("R1", "RAIL", "0V", ohms=bleeder_ohms),
        rm.Load("L1", "RAIL", "0V", amps=0.910),
    )


def test_single_divider_as_designed(solved, printed, exactly):
    # Fig. 3-64, pp. 3-94 and 3-95: 25 V at 910 mA from 100 V, bleeder a tenth of the load. The
    # course rounds the total of 1.001 A to 1 A and so prints 75 ohms for R2; its exact value,
    # 74.925 ohms, is used here.
    s = bleeder_divider(solved, 25 / 0.091, 75 / 1.001)
    assert s.volts("RAIL") == exactly(25)
    assert s.part("R1").amps == printed("91", 1e-3)
    assert s.part("R1").volts / s.part("R1").amps == printed("274.73")
    assert s.part("R2").volts == printed("75")
    assert s.part("ES").amps == printed("1")
    assert s.part("ES").amps == exactly(1.001)


def test_single_divider_with_the_rounded_parts(solved, printed, exactly):
    # The same divider with the parts that the course rounds to, 275 and 75 ohms; recomputed.
    s = bleeder_divider(solved, 275, 75)
    assert s.volts("RAIL") == exactly(1397 / 56)
    assert s.part("R1").amps == exactly(127 / 1400)
    assert s.part("R2").watts == printed("75.11")
    assert s.part("R2").watts == exactly((100 - 1397 / 56) ** 2 / 75)
    assert s.part("R1").watts == printed("2.263")
    assert bleeder_divider(solved, 274.73, 75).volts("RAIL") == printed("24.941")


def test_questions_on_the_single_divider(solved, exactly):
    # Questions 50 to 52, answers on p. 3-126: 90 V at 450 mA from 150 V; bleeder 45 mA through
    # 2 kilohms, 495 mA in all. The series resistor is what the total current asks for.
    s = solved(
        rm.Source("ES", "SUPPLY", "0V", volts=150),
        rm.Resistor("R2", "SUPPLY", "RAIL", ohms=60 / 0.495),
        rm.Resistor("R1", "RAIL", "0V", ohms=2000),
        rm.Load("L1", "RAIL", "0V", amps=0.450),
    )
    assert s.volts("RAIL") == exactly(90)
    assert s.part("R1").amps == exactly(0.045)
    assert s.part("ES").amps == exactly(0.495)


def three_load_divider(*loads):
    return (
        rm.Source("ES", "SUPPLY", "0V", volts=285),
        rm.Resistor("R4", "SUPPLY", "TOP", ohms=2000),
        rm.Resistor("R3", "TOP", "MIDDLE", ohms=1000),
        rm.Resistor("R2", "MIDDLE", "LOW", ohms=4000),
        rm.Resistor("R1", "LOW", "0V", ohms=18000),
        *loads,
    )


def rails(s):
    return tuple(s.volts(node) for node in ("LOW", "MIDDLE", "TOP"))


def test_three_load_divider(solved, exactly):
    # Fig. 3-65, pp. 3-96 to 3-100: 90 V 10 mA, 150 V 10 mA, 175 V 30 mA from 285 V, all printed.
    s = solved(
        *three_load_divider(
            rm.Load("L1", "LOW", "0V", amps=0.010),
            rm.Load("L2", "MIDDLE", "0V", amps=0.010),
            rm.Load("L3", "TOP", "0V", amps=0.030),
        )
    )
    dividers = [s.part(ref) for ref in ("R1", "R2", "R3", "R4")]
    loads = [s.part(ref) for ref in ("L1", "L2", "L3")]
    assert rails(s) == exactly((90, 150, 175))
    assert [r.amps for r in dividers] == exactly([0.005, 0.015, 0.025, 0.055])
    assert [r.watts for r in dividers] == exactly([0.45, 0.9, 0.625, 6.05])
    assert [load.watts for load in loads] == exactly([0.9, 1.5, 5.25])
    assert s.part("ES").amps == exactly(0.055)
    assert s.power_in == exactly(15.675)
    assert s.power_out == exactly(15.675)


@pytest.mark.parametrize(
    ("gone", "volts"),
    [
        ((), (90, 150, 175)),
        (("L1",), (897750 / 6613, 1097250 / 6613, 1220275 / 6613)),
        (("L2",), (59850 / 587, 99750 / 587, 109725 / 587)),
        (("L3",), (114, 190, 665 / 3)),
        (("L1", "L2", "L3"), (205.2, 250.8, 262.2)),
    ],
)
def test_three_load_divider_with_loads_gone(solved, exactly, gone, volts):
    # Own derivation, not in the course: the same loads as resistors of 9, 15 and 5.8333 kilohms,
    # which give the same rails, and then taken away; solved in fractions by elimination.
    s = solved(
        *three_load_divider(
            rm.Load("L1", "LOW", "0V", ohms=9000),
            rm.Load("L2", "MIDDLE", "0V", ohms=15000),
            rm.Load("L3", "TOP", "0V", ohms=175 / 0.030),
        ),
        change=rm.what_if(dict.fromkeys(gone, rm.OPEN)),
    )
    assert rails(s) == exactly(volts)
    assert all(s.part(ref).amps == 0 for ref in gone)
