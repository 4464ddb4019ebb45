"""How a map stands as a ladder: columns, lanes, rungs and drops, without a screen."""

import pytest
from hypothesis import given
from strategies import maps

import railmap as rm
from railmap.bench.rungs import CHASSIS, Ladder, alternating_nodes, ladder_of
from railmap.resources import example_paths

EXAMPLES = pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)


def built(m: rm.RailMap) -> Ladder:
    solution = rm.solve(m)
    volts = {node: solution.volts(node) for node in m.nodes}
    return ladder_of(m, alternating_nodes(m, solution), volts)


def example(name: str) -> rm.RailMap:
    return rm.load(next(path for path in example_paths() if path.stem == name))


def column_of(ladder: Ladder, lane: int) -> str:
    return next(c.board for c in ladder.columns if c.first <= lane < c.last)


def make(*parts: rm.Part, boards: tuple[str, ...] = ("Main", "Side")) -> rm.RailMap:
    m = rm.RailMap()
    for name in boards:
        m.add_board(name, 100, 80)
    for part in parts:
        m.add(part)
    return m


@EXAMPLES
def test_every_part_that_drops_is_in_a_lane_of_its_board(path) -> None:
    m = rm.load(path)
    ladder = built(m)
    for drop in ladder.drops:
        assert column_of(ladder, drop.lane) == m.parts[drop.ref].board
        assert ladder.rungs[drop.over].first <= drop.lane <= ladder.rungs[drop.over].last
    for foot in ladder.feet:
        assert {m.parts[ref].board for ref in foot.refs} == {column_of(ladder, foot.lane)}


@EXAMPLES
def test_every_load_stands_once_and_every_rail_is_a_rung(path) -> None:
    m = rm.load(path)
    ladder = built(m)
    loads = [part.ref for part in m.parts.values() if isinstance(part, rm.Load)]
    assert sorted(ref for foot in ladder.feet for ref in foot.refs) == sorted(loads)
    assert set(m.rails) <= set(ladder.rungs)


def test_windings_are_no_rungs_but_stand_behind_the_rectifier() -> None:
    m = example("portable_tape_recorder")
    ladder = built(m)
    assert ladder.alternating == {"AC1", "AC2"}
    assert not ladder.alternating & set(ladder.rungs)
    fed = {feeder.node: feeder for feeder in ladder.feeders}
    assert set(fed) == {"P0", "N0"}
    assert fed["P0"].refs == ("D101",)
    assert fed["N0"].windings == ("T1A", "T1B")


def test_two_diodes_on_one_rung_are_one_feeder_with_all_behind_them() -> None:
    m = make(
        rm.Winding("T1", "A1", "0V", volts_rms=12),
        rm.Winding("T2", "0V", "A3", volts_rms=12),
        rm.Fuse("F1", "A3", "A2"),
        rm.Diode("D1", "A1", "P"),
        rm.Diode("D2", "A2", "P"),
        rm.Load("L1", "P", "0V", ohms=100),
        boards=(),
    )
    ladder = built(m)
    (feeder,) = ladder.feeders
    assert (feeder.node, feeder.refs) == ("P", ("D1", "D2"))
    assert (feeder.windings, feeder.behind) == (("T1", "T2"), ("F1",))
    assert [column.title for column in ladder.columns] == [CHASSIS]


def test_four_diodes_of_a_bridge_are_one_feeder() -> None:
    m = make(
        rm.Winding("T1", "A1", "A2", volts_rms=12),
        rm.Diode("D1", "A1", "P"),
        rm.Diode("D2", "A2", "P"),
        rm.Diode("D3", "0V", "A1"),
        rm.Diode("D4", "0V", "A2"),
        rm.Capacitor("C1", "P", "0V", farads=1e-3),
        rm.Load("L1", "P", "0V", ohms=100),
        boards=(),
    )
    assert [feeder.refs for feeder in built(m).feeders] == [("D1", "D2", "D3", "D4")]


def test_without_a_solution_ends_of_windings_are_taken_to_alternate() -> None:
    m = example("portable_tape_recorder")
    assert alternating_nodes(m, None) == {"AC1", "AC2"}
    assert "P0" not in alternating_nodes(m, None)


def test_a_chain_hangs_in_one_lane_and_a_second_branch_beside_it() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Resistor("R1", "RAW", "A", ohms=10, board="Main"),
        rm.Resistor("R2", "A", "B", ohms=10, board="Main"),
        rm.Resistor("R3", "A", "C", ohms=10, board="Main"),
        rm.Resistor("R4", "A", "D", ohms=10, board="Side"),
    )
    lanes = {drop.ref: drop.lane for drop in built(m).drops}
    assert lanes["R1"] == lanes["R2"]
    assert lanes["R3"] == lanes["R1"] + 1
    assert lanes["R4"] > lanes["R3"]


def test_both_sides_of_0_v_share_lanes_and_a_part_across_has_its_own() -> None:
    m = make(
        rm.Source("V1", "P", "0V", volts=24, board="Main"),
        rm.Source("V2", "0V", "N", volts=24, board="Main"),
        rm.Resistor("R1", "P", "A", ohms=10, board="Main"),
        rm.Resistor("R2", "A", "0V", ohms=90, board="Main"),
        rm.Resistor("R3", "N", "B", ohms=10, board="Main"),
        rm.Resistor("R4", "B", "0V", ohms=90, board="Main"),
        rm.Resistor("R5", "P", "N", ohms=1000, board="Main"),
    )
    ladder = built(m)
    lanes = {drop.ref: drop.lane for drop in ladder.drops}
    assert lanes["R1"] == lanes["R3"] == lanes["R2"] == lanes["R4"]
    assert lanes["R5"] not in (lanes["R1"], lanes["R3"])
    assert (ladder.rungs["P"].side, ladder.rungs["N"].side) == (1, -1)


def test_a_converter_to_the_other_side_does_not_hang_in_a_lane_that_is_taken_there() -> None:
    m = make(
        rm.Source("V1", "P", "0V", volts=24, board="Main"),
        rm.Source("V2", "0V", "N", volts=24, board="Main"),
        rm.Resistor("R3", "N", "B", ohms=10, board="Main"),
        rm.Load("L2", "B", "0V", ohms=90, board="Main"),
        rm.Converter("U1", "P", "OUT", "0V", volts=-12, board="Main"),
        rm.Load("L1", "OUT", "0V", ohms=90, board="Main"),
    )
    ladder = built(m)
    lanes = {drop.ref: drop.lane for drop in ladder.drops}
    assert lanes["U1"] != lanes["R3"]
    assert ladder.rungs["OUT"].side == -1


def test_a_regulator_and_a_transistor_drop_from_input_to_output() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Regulator("U1", "RAW", "OUT", "0V", volts=12, board="Main"),
        rm.PassTransistor("Q1", "RAW", "BASE", "EMIT", board="Main"),
        rm.Resistor("R1", "RAW", "BASE", ohms=1000, board="Main"),
        rm.Zener("D1", "BASE", "0V", zener_volts=9, board="Main"),
        rm.Load("L1", "EMIT", "0V", ohms=100, board="Main"),
    )
    drops = {drop.ref: (drop.over, drop.under) for drop in built(m).drops}
    assert drops["U1"] == ("RAW", "OUT")
    assert drops["Q1"] == ("RAW", "EMIT")
    assert drops["D1"] == ("BASE", "0V")


def test_links_and_fuses_are_flat_and_have_a_lane_of_their_own() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Fuse("F1", "RAW", "P0", board="Main"),
        rm.Resistor("R1", "P0", "A", ohms=10, board="Main"),
    )
    m.add_rail("P0", label_volts=24)
    ladder = built(m)
    fuse = next(drop for drop in ladder.drops if drop.ref == "F1")
    assert fuse.flat
    assert ladder.narrow[fuse.lane]
    assert ladder.rungs["P0"].first == ladder.rungs["RAW"].last == fuse.lane


def test_a_rail_behind_nothing_but_a_link_still_has_a_lane_for_its_name() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Link("J1", "RAW", "OUT", board="Side"),
    )
    m.add_rail("OUT")
    ladder = built(m)
    assert not ladder.narrow[ladder.rungs["OUT"].home]


def test_loads_on_two_boards_are_two_feet() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Load("L1", "RAW", "0V", ohms=100, board="Side"),
        rm.Load("L2", "0V", "RAW", ohms=100, board="Side"),
        rm.Load("L3", "RAW", "0V", ohms=100, board="Main"),
    )
    ladder = built(m)
    assert sorted(foot.refs for foot in ladder.feet) == [("L1", "L2"), ("L3",)]
    assert ladder.rungs["RAW"].last >= next(f.lane for f in ladder.feet if len(f.refs) == 2)


def test_capacitors_and_empty_boards_have_no_column() -> None:
    m = make(
        rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
        rm.Capacitor("C1", "RAW", "0V", farads=1e-3, board="Side"),
    )
    assert [column.board for column in built(m).columns] == ["Main"]


def test_without_volts_the_label_tells_the_side() -> None:
    m = make(rm.Source("V1", "0V", "N", volts=24, board="Main"))
    m.add_rail("N", label_volts=-24)
    assert ladder_of(m).rungs["N"].side == -1


@given(maps())
def test_every_map_stands_as_a_ladder(m: rm.RailMap) -> None:
    alternating = alternating_nodes(m, None)
    ladder = ladder_of(m, alternating)
    assert set(m.rails) - {"0V"} <= set(ladder.rungs) | alternating
    lanes = range(len(ladder.narrow))
    assert [lane for c in ladder.columns for lane in range(c.first, c.last)] == list(lanes)
    for drop in ladder.drops:
        assert drop.lane in lanes
        assert column_of(ladder, drop.lane) == m.parts[drop.ref].board
        for node in {drop.over, drop.under} - {"0V"}:
            rung = ladder.rungs[node]
            assert rung.first <= drop.lane <= rung.last
    for rung in ladder.rungs.values():
        assert rung.first <= rung.home <= rung.last


@given(maps())
def test_no_two_drops_from_one_rung_share_a_lane(m: rm.RailMap) -> None:
    ladder = ladder_of(m)
    taken = [(drop.over, drop.lane) for drop in ladder.drops]
    assert len(taken) == len(set(taken))
