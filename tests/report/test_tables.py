"""The rows that the command line prints and the window shows."""

import dataclasses
import math

import pytest

import railmap as rm
from railmap.report.tables import (
    HotRow,
    PartDriftRow,
    RailRow,
    drift_parts,
    drift_rows,
    hot_rows,
    rail_rows,
    unrated,
)


def divider() -> rm.RailMap:
    """Ohm's law by hand: 12 V over 100 and 200 ohms, and -10 V over twice 100 ohms."""
    m = rm.RailMap("Divider", ambient_c=40)
    m.add_board("Main", 160, 100)
    m.add_board("Side", 80, 60)
    m.add(rm.Source("V1", "RAW", "0V", volts=12, follows_mains=True))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100, rated_watts=0.125, board="Side"))
    m.add(rm.Resistor("R2", "A", "0V", ohms=200, rated_watts=0.5, board="Main"))
    m.add(rm.Source("V2", "0V", "NEG", volts=10))
    m.add(rm.Resistor("R3", "NEG", "N1", ohms=100, rated_watts=0.5, max_volts=200))
    m.add(rm.Resistor("R4", "N1", "0V", ohms=100))
    return m


def with_rails() -> rm.RailMap:
    m = divider()
    m.add_rail("N1", "minus five", label_volts=-4.5, max_volts=4.9)
    m.add_rail("A", "plus eight", label_volts=8.5, band_pct=10, max_volts=9)
    m.add_rail("NEG", order=2)
    m.add_rail("RAW", order=1, label_volts=12, band_pct=0)
    return m


def row_of(rows: list[RailRow], node: str) -> RailRow:
    return next(row for row in rows if row.node == node)


def part_of(rows: list[HotRow], ref: str) -> HotRow:
    return next(row for row in rows if row.ref == ref)


def change_of(rows: list[PartDriftRow], ref: str) -> PartDriftRow:
    return next(row for row in rows if row.ref == ref)


def test_rails_stand_in_the_order_of_probing_then_by_volts() -> None:
    m = with_rails()
    assert [row.node for row in rail_rows(m, rm.solve(m))] == ["RAW", "NEG", "A", "N1"]


def test_a_rail_without_a_figure_comes_last() -> None:
    m = divider()
    m.add_rail("nowhere", label_volts=5)
    m.add_rail("N1")
    rows = rail_rows(m, rm.solve(m))
    assert [row.node for row in rows] == ["N1", "nowhere"]
    assert (rows[1].volts, rows[1].difference_pct, rows[1].verdict) == (None, None, "no figure")
    assert rows[1].boards == ()
    assert not rows[1].over_limit


def test_a_rail_against_its_label() -> None:
    m = with_rails()
    row = row_of(rail_rows(m, rm.solve(m)), "A")
    assert row.name == "plus eight"
    assert row.volts == pytest.approx(8.0)
    assert row.difference_pct == pytest.approx(-100 * 0.5 / 8.5)
    assert (row.low_volts, row.high_volts) == (pytest.approx(7.65), pytest.approx(9.35))
    assert (row.verdict, row.over_limit) == ("ok", False)


def test_a_negative_rail_that_is_farther_from_nought_is_above_its_label() -> None:
    m = with_rails()
    row = row_of(rail_rows(m, rm.solve(m)), "N1")
    assert row.volts == pytest.approx(-5.0)
    assert row.difference_pct == pytest.approx(100 * 0.5 / 4.5)
    assert row.verdict == "outside"
    assert row.over_limit


def test_a_rail_at_the_edge_of_its_band_is_inside() -> None:
    m = with_rails()
    assert row_of(rail_rows(m, rm.solve(m)), "RAW").verdict == "ok"


def test_a_rail_without_a_label_is_not_judged() -> None:
    m = with_rails()
    row = row_of(rail_rows(m, rm.solve(m)), "NEG")
    assert (row.name, row.verdict) == ("NEG", "no label")
    assert (row.label_volts, row.difference_pct, row.low_volts, row.high_volts) == (None,) * 4


def test_a_label_of_nought_volts_has_no_per_cent() -> None:
    m = divider()
    m.add_rail("A", label_volts=0)
    assert rail_rows(m, rm.solve(m))[0].difference_pct is None


def test_the_boards_of_a_rail_are_those_of_its_parts_in_the_order_of_the_map() -> None:
    m = with_rails()
    rows = rail_rows(m, rm.solve(m))
    assert row_of(rows, "A").boards == ("Main", "Side")
    assert row_of(rows, "RAW").boards == ("Side",)
    assert row_of(rows, "N1").boards == ()


def test_parts_stand_by_stress() -> None:
    m = divider()
    rows = hot_rows(m, rm.solve(m))
    # 40 mA: 0.16 W of 0.125 W, 0.32 W of 0.5 W; 50 mA: 0.25 W of 0.5 W.
    assert [row.ref for row in rows] == ["R1", "R2", "R3"]
    assert [row.ratio for row in rows] == pytest.approx([1.28, 0.64, 0.5])
    assert [row.over for row in rows] == [True, False, False]


def test_a_part_shows_the_rating_it_comes_nearest_to() -> None:
    m = divider()
    row = part_of(hot_rows(m, rm.solve(m)), "R3")
    assert (row.what, row.amount_unit) == ("power", "W")
    assert (row.amount, row.allowed) == (pytest.approx(0.25), pytest.approx(0.5))
    assert (row.kind, row.board, row.value, row.unit) == ("Resistor", "", 100.0, "ohm")


def test_the_rating_is_derated() -> None:
    """2 W at 25 degrees, junction limit 150 degrees, at 50 degrees: 1.6 W.

    Sedra and Smith, Microelectronic Circuits, example 14.4.
    """
    m = rm.RailMap(ambient_c=50)
    m.add(rm.Source("V1", "RAW", "0V", volts=12))
    m.add(rm.Resistor("R1", "RAW", "Z", ohms=100))
    m.add(rm.Zener("Z1", "Z", "0V", zener_volts=5, rated_watts=2))
    row = part_of(hot_rows(m, rm.solve(m)), "Z1")
    assert row.allowed == pytest.approx(1.6)
    assert row.ratio == pytest.approx(5 * 0.07 / 1.6, rel=1e-4)


def test_a_part_exactly_at_its_rating_is_not_over() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=10))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=30))
    m.add(rm.Resistor("R2", "A", "0V", ohms=70, rated_watts=0.7))
    row = hot_rows(m, rm.solve(m))[0]
    assert row.ratio == pytest.approx(1.0)
    assert not row.over


def test_where_nothing_is_allowed_the_stress_is_infinite() -> None:
    m = rm.RailMap(ambient_c=200)
    m.add(rm.Source("V1", "RAW", "0V", volts=10))
    m.add(rm.Resistor("R1", "RAW", "0V", ohms=30, rated_watts=5))
    row = hot_rows(m, rm.solve(m))[0]
    assert row.ratio is not None
    assert math.isinf(row.ratio)
    assert row.over


def test_parts_without_a_rating_are_named() -> None:
    assert unrated(rm.solve(divider())) == ["V1", "V2", "R4"]


@pytest.mark.parametrize(
    ("value", "text"), [(4700.0, "4k7"), (0.47, "0R47"), (rm.OPEN, "open"), (rm.SHORT, "short")]
)
def test_the_value_is_that_which_was_solved(value: float, text: str) -> None:
    m = divider()
    rows = hot_rows(m, rm.solve(m, change=rm.what_if(R2=value)))
    assert part_of(rows, "R2").value_text == text


def test_a_value_found_on_the_bench_is_the_one_shown() -> None:
    m = divider()
    found = m.parts["R2"].with_found(236, source="cold, lifted")
    m.change([rm.model.railmap.Change("parts", "R2", found)])
    assert part_of(hot_rows(m, rm.solve(m)), "R2").value_text == "236R"


def test_nothing_solved_gives_rows_of_rails_without_figures_and_no_parts() -> None:
    m = with_rails()
    m.add(rm.Source("V9", "RAW", "0V", volts=9))
    solution = rm.solve(m)
    assert solution.status == "contradiction"
    assert {row.verdict for row in rail_rows(m, solution)} == {"no figure"}
    assert hot_rows(m, solution) == []
    assert unrated(solution) == ["V1", "V2", "R4", "V9"]


def test_drift_of_a_rail() -> None:
    m = with_rails()
    before, after = rm.solve(m), rm.solve(m, change=rm.what_if(R1=236))
    rows = drift_rows(before, after)
    assert [row.node for row in rows] == ["RAW", "NEG", "A", "N1"]
    row = rows[2]
    # 12 V over 236 and 200 ohms.
    assert row.before_volts == pytest.approx(8.0)
    assert row.after_volts == pytest.approx(12 * 200 / 436)
    assert row.change_volts == pytest.approx(12 * 200 / 436 - 8)
    assert row.change_pct == pytest.approx(100 * (12 * 200 / 436 / 8 - 1))
    assert (row.verdict, row.boards) == ("outside", ("Main", "Side"))


def test_a_negative_rail_that_falls_toward_nought_changes_by_less_than_nothing() -> None:
    m = with_rails()
    row = drift_rows(rm.solve(m), rm.solve(m, change=rm.what_if(R3=300)))[3]
    assert row.after_volts == pytest.approx(-2.5)
    assert row.change_volts == pytest.approx(2.5)
    assert row.change_pct == pytest.approx(-50.0)


def test_a_rail_that_loses_its_path_to_nought_has_no_change() -> None:
    m = with_rails()
    after = rm.solve(m, change=rm.what_if(R3=rm.OPEN, R4=rm.OPEN))
    row = drift_rows(rm.solve(m), after)[3]
    assert row.before_volts == pytest.approx(-5.0)
    assert (row.after_volts, row.change_volts, row.change_pct) == (None, None, None)
    assert row.verdict == "no figure"


def test_a_rail_at_nought_before_has_no_per_cent() -> None:
    m = divider()
    m.add_rail("A")
    m.add(rm.Switch("S1", "A", "0V"))
    row = drift_rows(rm.solve(m), rm.solve(m, change=rm.what_if(S1=rm.OPEN)))[0]
    assert row.change_volts == pytest.approx(8.0)
    assert row.change_pct is None


def test_drift_names_the_changed_part_and_those_whose_heat_changes() -> None:
    m = divider()
    rows = drift_parts(rm.solve(m), rm.solve(m, change=rm.what_if(R1=236)))
    assert [row.ref for row in rows] == ["R1", "R2"]
    row = change_of(rows, "R1")
    amps = 12 / 436
    assert (row.before_text, row.after_text) == ("100R", "236R")
    assert row.before_watts == pytest.approx(0.16)
    assert row.after_watts == pytest.approx(amps**2 * 236)
    assert row.before_ratio == pytest.approx(1.28)
    assert row.after_ratio == pytest.approx(amps**2 * 236 / 0.125)
    assert row.over


def test_drift_without_a_change_names_nothing() -> None:
    m = divider()
    assert drift_parts(rm.solve(m), rm.solve(m)) == []


def test_the_hottest_afterwards_stands_first_and_the_unrated_last() -> None:
    m = divider()
    rows = drift_parts(rm.solve(m), rm.solve(m, change=rm.what_if(R3=50, R1=rm.SHORT)))
    # R1 shorted: 12 V over 200 ohms, 0.72 W of 0.5 W. R3: 66.7 mA, 0.222 W of 0.5 W.
    assert [row.ref for row in rows] == ["R2", "R3", "R1", "R4"]
    assert change_of(rows, "R1").after_text == "short"
    assert change_of(rows, "R1").after_ratio == pytest.approx(0.0, abs=1e-12)


def test_a_small_change_that_takes_a_part_over_its_rating_is_named() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=10))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=30))
    m.add(rm.Resistor("R2", "A", "0V", ohms=70, rated_watts=0.7))
    rows = drift_parts(rm.solve(m), rm.solve(m, change=rm.what_if(R1=29.9)))
    assert [(row.ref, row.over) for row in rows] == [("R2", True), ("R1", False)]


def test_a_part_that_loses_its_figures_is_named() -> None:
    m = divider()
    m.add(rm.Resistor("R5", "NEG", "M", ohms=100, rated_watts=1))
    m.add(rm.Resistor("R6", "M", "0V", ohms=100, rated_watts=1))
    m.add(rm.Source("V9", "RAW", "0V", volts=9))
    after = rm.solve(m)
    before = rm.solve(m, change=rm.what_if(V9=rm.OPEN))
    assert change_of(drift_parts(before, after), "R5").after_watts is None


def test_rows_are_frozen() -> None:
    m = with_rails()
    row = rail_rows(m, rm.solve(m))[0]
    with pytest.raises(dataclasses.FrozenInstanceError):
        row.volts = 0.0  # type: ignore[misc]
