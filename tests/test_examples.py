"""The example maps open, are laid out without a clash, and give the figures of their tables.

The expected figures were computed with an independent script for the same invented maps; a
cross-check, not a published source. Watts and currents are printed so short that half a unit of
their last digit is allowed on top.
"""

from itertools import combinations
from pathlib import Path
from typing import Any

import msgspec
import pytest

import railmap as rm
from railmap.bench.placing import TILE_MM
from railmap.bench.revisions import fit
from railmap.resources import data_dir, example_paths

NAMES = ("first_divider", "mixing_console", "portable_tape_recorder", "small_receiver")
GAP_MM = (45.0, 30.0)
MAINS_OF_SETUPS = {"Design mains": 220.0, "Today's mains": 238.0}

# Node: volts at 220 V and at 238 V.
RAILS: dict[str, dict[str, tuple[str, str]]] = {
    "portable_tape_recorder": {
        "P0": ("33.3", "36.1"), "P1": ("26.8", "29.1"), "P2": ("18.9", "20.9"),
        "P3": ("12.0", "12.0"), "P4": ("6.76", "6.78"), "P5": ("14.2", "15.5"),
        "N0": ("-35.1", "-38.0"), "N1": ("-28.1", "-30.5"), "N2": ("-16.9", "-18.3"),
        "N3": ("-10.3", "-11.2"),
    },
    "small_receiver": {
        "N0": ("-18.0", "-19.5"), "N1": ("-13.7", "-14.8"), "N2": ("-8.8", "-9.3"),
        "N3": ("-5.6", "-5.6"),
    },
    "mixing_console": {
        "P0": ("41.2", "44.7"), "P1": ("35.6", "38.5"), "P2": ("21.9", "23.3"),
        "P3": ("14.9", "15.0"), "P4": ("28.2", "30.6"), "P5": ("14.0", "15.1"),
        "P6": ("28.2", "30.6"), "P7": ("14.0", "15.1"), "P8": ("29.8", "32.3"),
        "P9": ("16.6", "18.0"), "P10": ("22.6", "26.0"), "P11": ("15.0", "15.0"),
        "P12": ("21.7", "23.5"), "N0": ("-43.0", "-46.6"), "N1": ("-34.4", "-37.3"),
        "N2": ("-27.7", "-30.0"), "N3": ("-27.7", "-30.0"), "N4": ("-19.1", "-20.7"),
        "N5": ("-22.2", "-25.8"), "N6": ("-15.0", "-15.0"), "N7": ("-21.3", "-23.1"),
        "L0": ("12.6", "13.8"), "L1": ("5.0", "5.0"), "L2": ("10.7", "11.8"),
        "L3": ("8.7", "9.5"),
    },
}  # fmt: skip

# Map and mains: watts of each part.
WATTS: dict[tuple[str, float], dict[str, str]] = {
    ("portable_tape_recorder", 220): {
        "R101": "1.29", "R102": ".75", "R103": ".86", "R104": "1.35",
        "R201": ".71", "R202": ".47", "R203": ".09",
    },
    ("portable_tape_recorder", 238): {
        "R101": "1.48", "R102": ".83", "R103": "1.05", "R104": "1.57",
        "R201": ".83", "R202": ".55", "R203": ".11",
    },
    ("mixing_console", 238): {
        "R101": "2.12", "R102": "1.26", "R201": ".70", "R202": ".18",
        "R301": ".93", "R302": ".61", "R303": ".24", "R401": ".93", "R402": ".61", "R403": ".24",
        "R501": "1.03", "R502": ".36", "R503": ".49", "R601": "1.29", "R602": "1.31",
        "R701": ".95", "R702": ".99", "R801": ".33", "R802": ".15",
    },
}  # fmt: skip

# Milliamps out of a rectifier's pin at 220 V and at 238 V. The console's third one is left out:
# its printed 494 mA is less than its branches take at the printed volts, 316 + 158 + 33 mA.
MILLIAMPS: dict[tuple[str, str, str], tuple[str, str]] = {
    ("portable_tape_recorder", "D101", "plus"): ("301", "324"),
    ("portable_tape_recorder", "D101", "minus"): ("102", "111"),
    ("small_receiver", "D2", "anode"): ("78", "85"),
    ("mixing_console", "D101", "plus"): ("542", "582"),
    ("mixing_console", "D101", "minus"): ("227", "241"),
}
# Ripple peak to peak at some mains, in millivolts, and how often it comes.
RIPPLE: list[tuple[str, int, int, dict[str, str]]] = [
    ("portable_tape_recorder", 220, 100, {"P0": "680", "N0": "380"}),
    ("portable_tape_recorder", 238, 100, {
        "P0": "730", "N0": "410", "P1": "62", "P2": "5.1", "P4": "3.9", "P5": "16.4",
        "N1": "35.5", "N2": "1.9",
    }),
    ("small_receiver", 220, 50, {"N0": "600"}),
    ("small_receiver", 238, 50, {"N0": "650"}),
    ("mixing_console", 238, 100, {"P0": "640", "N0": "590", "L0": "540"}),
]  # fmt: skip


def example(name: str) -> rm.RailMap:
    return rm.load(data_dir("example_boards") / f"{name}.railmap")


def printed(text: str, part: float = 0.01) -> Any:
    """Compare with a printed figure: to a part of it, and half a unit of its last digit."""
    decimals = len(text.partition(".")[2])
    return pytest.approx(float(text), rel=0, abs=part * abs(float(text)) + 0.5 * 10.0**-decimals)


def percent(s: rm.Solution, ref: str) -> int:
    return round(100 * s.part(ref).stress)


def ratings_of(part: rm.Part) -> dict[str, Any]:
    """Return everything about a part but its name, its board and where it is connected."""
    own = {"ref", "board", *part.pins}
    return {key: value for key, value in msgspec.structs.asdict(part).items() if key not in own}


def test_these_are_all_the_examples() -> None:
    assert tuple(path.stem for path in example_paths()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_every_setup_of_an_example_is_solved(name: str) -> None:
    m = example(name)
    m.check()
    assert {"Design mains", "Today's mains"} <= set(m.setups)
    for setup in (None, *m.setups.values()):
        s = rm.solve(m, setup=setup)
        assert s.status == "solved", s.message
        assert not {f.kind for f in s.findings} & {"island", "contradiction"}
        assert s.power_in == pytest.approx(s.power_out, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_found_wrong_with_an_example_as_drawn(name: str) -> None:
    assert rm.solve(example(name)).findings == ()


@pytest.mark.parametrize("name", NAMES)
def test_saved_again_an_example_is_the_same_to_the_byte(name: str, tmp_path: Path) -> None:
    path = tmp_path / "again.railmap"
    rm.save(example(name), path)
    assert path.read_bytes() == (data_dir("example_boards") / f"{name}.railmap").read_bytes()


@pytest.mark.parametrize("name", RAILS)
def test_setups_hold_the_mains_that_the_tables_are_for(name: str) -> None:
    m = example(name)
    assert m.mains_volts == 220
    assert {key: m.setups[key].mains_volts for key in MAINS_OF_SETUPS} == MAINS_OF_SETUPS


@pytest.mark.parametrize("name", NAMES)
def test_every_rail_says_what_it_should_be_and_where_to_probe_it(name: str) -> None:
    m = example(name)
    rails = m.rails.values()
    assert sorted(rail.order for rail in rails) == list(range(1, len(rails) + 1))
    for rail in rails:
        assert rail.label_volts is not None
        assert rail.probe
        low, high = rail.band_volts or (0.0, 0.0)
        assert low < rm.solve(m).volts(rail.node) < high, rail.node


@pytest.mark.parametrize("name", NAMES)
def test_resistors_capacitors_and_regulators_have_ratings(name: str) -> None:
    for part in example(name).parts.values():
        match part:
            case rm.Resistor():
                assert part.rated_watts
                assert part.technology
                assert part.tolerance_pct in (5, 10)
            case rm.Capacitor():
                assert part.rated_volts
            case rm.Regulator() | rm.Zener():
                assert part.rated_watts
            case rm.Load():
                assert part.notes


# figures


@pytest.mark.parametrize("name", RAILS)
@pytest.mark.parametrize(("column", "mains"), [(0, 220), (1, 238)])
def test_rails(name: str, column: int, mains: float) -> None:
    m = example(name)
    s = rm.solve(m, mains_volts=mains)
    assert set(m.rails) == set(RAILS[name])
    found = {node: s.volts(node) for node in m.rails}
    assert found == {
        node: pytest.approx(float(pair[column]), rel=0.01) for node, pair in RAILS[name].items()
    }


@pytest.mark.parametrize(("name", "mains"), WATTS)
def test_dissipation(name: str, mains: float) -> None:
    m = example(name)
    s = rm.solve(m, mains_volts=mains)
    assert set(WATTS[name, mains]) == {r for r, p in m.parts.items() if isinstance(p, rm.Resistor)}
    found = {ref: s.part(ref).watts for ref in WATTS[name, mains]}
    assert found == {ref: printed(text) for ref, text in WATTS[name, mains].items()}


@pytest.mark.parametrize(("name", "ref", "pin"), MILLIAMPS)
def test_currents_of_the_rectifiers(name: str, ref: str, pin: str) -> None:
    m = example(name)
    for mains, text in zip((220, 238), MILLIAMPS[name, ref, pin], strict=True):
        amps = rm.solve(m, mains_volts=mains).part(ref).pin_amps[pin]
        assert 1e3 * abs(amps) == printed(text)


@pytest.mark.parametrize(("name", "mains", "hertz", "millivolts"), RIPPLE)
def test_ripple(name: str, mains: int, hertz: int, millivolts: dict[str, str]) -> None:
    s = rm.solve(example(name), mains_volts=mains)
    for node, text in millivolts.items():
        swing = 1e3 * s.ripple(node).volts_pp
        # Raw ripple is printed in volts with two decimals.
        digit = 5.0 if float(text) >= 100 else 0.05
        assert swing == pytest.approx(float(text), rel=0.01, abs=digit)
        assert s.ripple(node).hertz == hertz


def test_tape_recorder_hottest_parts() -> None:
    s = rm.solve(example("portable_tape_recorder"), mains_volts=238)
    assert s.hottest()[:2] == ["R202", "R103"]
    assert (percent(s, "R202"), percent(s, "R103")) == (110, 105)
    assert all(s.part(ref).stress < 0.93 for ref in s.hottest()[2:])


def test_tape_recorder_regulator() -> None:
    """The table counts the volts across it times its input current.

    Its heat is more: the quiescent current also falls through the 12 V of its output.
    """
    u1 = rm.solve(example("portable_tape_recorder"), mains_volts=238).part("U1")
    assert u1.volts * u1.pin_amps["input"] == printed(".44")
    assert u1.watts == pytest.approx(u1.volts * u1.pin_amps["input"] + 12 * 0.005, rel=1e-3)


def test_tape_recorder_raw_rails_without_load() -> None:
    m = example("portable_tape_recorder")
    unsoldered = dict.fromkeys(("R101", "R103", "R104", "R201"), rm.OPEN)
    for mains, text in ((220, "36.7"), (238, "39.8")):
        s = rm.solve(m, mains_volts=mains, change=rm.what_if(unsoldered))
        assert s.volts("P0") == pytest.approx(float(text), rel=0.01)
        assert s.volts("N0") == pytest.approx(-float(text), rel=0.01)


def test_tape_recorder_without_its_remote_box() -> None:
    """The lamp's share of the current gone, an 18 V part is over its limit on high mains only."""
    m = example("portable_tape_recorder")
    out = rm.solve(m, setup=m.setups["Remote box out"])
    assert out.volts("P5") == pytest.approx(19.3, rel=0.01)
    assert out.part("LP1").amps == 0
    assert out.part("L15").stress > 1
    low = rm.solve(m, setup=m.setups["Remote box out"], mains_volts=220)
    assert low.volts("P5") == pytest.approx(17.8, rel=0.01)
    assert low.part("L15").stress < 1


def test_tape_recorder_of_the_late_revision() -> None:
    """R102 is 68R in late units: P1 and P2 follow, the other rails stay as drawn."""
    m = example("portable_tape_recorder")
    drawn = rm.solve(m, mains_volts=239)
    m.change(fit(m, "late"))
    assert m.parts["R102"].now() == 68
    s = rm.solve(m, mains_volts=239)
    for node in m.rails:
        printed_volts = {"P1": 29.16, "P2": 22.12}.get(node, drawn.volts(node))
        assert s.volts(node) == pytest.approx(printed_volts, rel=0.003), node


# What a change does at 238 V: (what-if, rail, volts).
FAULTS: list[tuple[rm.WhatIf, str, float]] = [
    (rm.what_if(R101=rm.OPEN), "P0", 37.9), (rm.what_if(R101=rm.OPEN), "P1", 0.0),
    (rm.what_if(R102=rm.OPEN), "P1", 32.7), (rm.what_if(R102=rm.OPEN), "P2", 0.0),
    (rm.what_if(R201=rm.OPEN), "N0", -39.8), (rm.what_if(R201=rm.OPEN), "N1", 0.0),
    (rm.what_if(C12=rm.SHORT), "P1", 23.0), (rm.what_if(C22=rm.SHORT), "N1", -27.0),
    (rm.what_if(D1=rm.OPEN), "P4", 19.8), (rm.what_if(D1=rm.SHORT), "P4", 0.0),
    (rm.what_if(unplugged=["Oscillator and logic"]), "P1", 38.4),
    (rm.what_if(L22=rm.OPEN, L23=rm.OPEN), "N1", -33.5),
]  # fmt: skip


@pytest.mark.parametrize(("change", "node", "volts"), FAULTS)
def test_tape_recorder_under_a_fault(change: rm.WhatIf, node: str, volts: float) -> None:
    s = rm.solve(example("portable_tape_recorder"), mains_volts=238, change=change)
    assert s.volts(node) == pytest.approx(volts, rel=0.015, abs=0.02)


def test_tape_recorder_burns_a_dropper_into_a_short() -> None:
    m = example("portable_tape_recorder")
    for capacitor, ref, watts in (("C12", "R102", "6.4"), ("C15", "R104", "4.7"),
                                  ("C22", "R202", "2.7")):  # fmt: skip
        s = rm.solve(m, mains_volts=238, change=rm.what_if({capacitor: rm.SHORT}))
        assert s.part(ref).watts == printed(watts, 0.015)


def test_receiver_reservoir_drying_out_shows_in_ripple_and_not_in_volts() -> None:
    m = example("small_receiver")
    good, dry = rm.solve(m), rm.solve(m, change=rm.what_if(C1=900e-6))
    assert dry.ripple("N0").volts_pp == pytest.approx(1.45, rel=0.01)
    # The table's 0.06 V is the difference of two means that it gives to 0.3 %.
    assert 0 < dry.volts("N0") - good.volts("N0") == pytest.approx(0.06, abs=0.03)


def test_receiver_has_its_positive_end_on_the_chassis() -> None:
    m = example("small_receiver")
    assert m.parts["C1"].nodes == ("0V", "N0")
    s = rm.solve(m)
    assert all(s.volts(node) < 0 for node in m.rails)


def test_receiver_ratings() -> None:
    s = rm.solve(example("small_receiver"), mains_volts=238)
    assert (percent(s, "R1"), percent(s, "R2")) == (54, 45)
    resistors = [ref for ref in s.hottest() if ref.startswith("R")]
    assert resistors == ["R1", "R2", "R3"]


def test_receiver_without_load() -> None:
    """What is left is the zener's current."""
    m = example("small_receiver")
    s = rm.solve(m, setup=m.setups["No load"])
    for node, volts in (("N0", -21.1), ("N1", -19.2), ("N2", -13.2)):
        assert s.volts(node) == pytest.approx(volts, rel=0.01)


def test_console_list_of_what_to_renew_first() -> None:
    s = rm.solve(example("mixing_console"), mains_volts=238)
    first = [ref for ref in s.hottest() if percent(s, ref) >= 93]
    assert sorted(first) == ["R101", "R301", "R303", "R401", "R403", "R503", "R701", "R702"]
    assert s.hottest()[0] == "R101"
    assert percent(s, "R101") == 106
    assert sum(s.part(ref).stress > 1 for ref in s.hottest()) == 1


def test_console_programme_boards_are_twins() -> None:
    m = example("mixing_console")
    s = rm.solve(m, mains_volts=238)
    left, right = ([p for p in m.parts.values() if p.board == f"{side} programme"]
                   for side in ("Left", "Right"))  # fmt: skip
    for one, other in zip(left, right, strict=True):
        assert type(one) is type(other)
        assert one.ref[0] + one.ref[2:] == other.ref[0] + other.ref[2:]
        assert ratings_of(one) == ratings_of(other)
        assert s.part(one.ref).watts == pytest.approx(s.part(other.ref).watts, rel=1e-6, abs=1e-9)
    for one_node, other_node in (("P4", "P6"), ("P5", "P7"), ("N2", "N3")):
        assert s.volts(one_node) == pytest.approx(s.volts(other_node), rel=1e-9)
        assert m.rails[one_node].label_volts == m.rails[other_node].label_volts


def test_divider_by_hand() -> None:
    """Closed form: 12 V behind 100.5 ohms, 220 ohms across, 20 mA drawn whatever the volts."""
    m = example("first_divider")
    s = rm.solve(m)
    assert s.volts("A") == pytest.approx((12 - 0.02 * 100.5) * 220 / 320.5, rel=1e-6)
    bare = rm.solve(m, setup=m.setups["No load"])
    assert bare.volts("A") == pytest.approx(12 * 220 / 320.5, rel=1e-6)


# places


def box_of(board: rm.Board, part: rm.Part) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom of a tile on its board."""
    place = part.place
    assert place, part.ref
    assert place.turn in (0, 180)
    half_x, half_y = TILE_MM[0] / 2, TILE_MM[1] / 2
    box = place.x_mm - half_x, place.y_mm - half_y, place.x_mm + half_x, place.y_mm + half_y
    assert box[0] >= 0 <= box[1], part.ref
    assert box[2] <= board.width_mm, part.ref
    assert box[3] <= board.height_mm, part.ref
    return box


def apart(one: tuple[float, ...], other: tuple[float, ...], gap: tuple[float, float]) -> bool:
    return (
        one[0] - other[2] >= gap[0] or other[0] - one[2] >= gap[0]
        or one[1] - other[3] >= gap[1] or other[1] - one[3] >= gap[1]
    )  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_tiles_lie_on_their_boards_and_apart(name: str) -> None:
    m = example(name)
    for board in m.boards.values():
        here = {ref: box_of(board, p) for ref, p in m.parts.items() if p.board == board.name}
        for one, other in combinations(here, 2):
            assert apart(here[one], here[other], (2.0, 2.0)), (one, other)
    assert all(part.board for part in m.parts.values())


@pytest.mark.parametrize("name", NAMES)
def test_boards_fill_a_landscape_rectangle(name: str) -> None:
    boards = list(example(name).boards.values())
    boxes = [(b.x_mm, b.y_mm, b.x_mm + b.width_mm, b.y_mm + b.height_mm) for b in boards]
    assert all(apart(one, other, GAP_MM) for one, other in combinations(boxes, 2))
    wide = max(box[2] for box in boxes) - min(box[0] for box in boxes)
    high = max(box[3] for box in boxes) - min(box[1] for box in boxes)
    assert wide > high
    # With a gap to the right of and below each board nothing is left over.
    tiled = sum((b.width_mm + GAP_MM[0]) * (b.height_mm + GAP_MM[1]) for b in boards)
    assert tiled == pytest.approx((wide + GAP_MM[0]) * (high + GAP_MM[1]))


@pytest.mark.parametrize("name", NAMES)
def test_every_part_between_a_rail_and_0v_shows_its_rail_to_the_supply(name: str) -> None:
    for part in example(name).parts.values():
        if len(part.pins) != 2 or "0V" not in part.nodes:
            continue
        place = part.place
        assert place
        rail_first = part.nodes.index("0V") == 1
        left = rail_first == (place.turn == 0)
        # A source or winding feeds to the right; what it feeds takes from the left.
        assert left != isinstance(part, rm.Source | rm.Winding), part.ref
