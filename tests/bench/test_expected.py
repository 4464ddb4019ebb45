"""Readings beside their forecasts: meters that load, setups, spreads and verdicts."""

from __future__ import annotations

from math import isnan

import numpy as np
import pytest

import railmap as rm
from railmap.bench.expected import Limits, forecast_points, judge
from railmap.resources import data_dir

READ = {
    "P0": 35.85, "P1": 27.87, "P2": 19.90, "P3": 12.02, "P4": 6.74, "P5": 12.76,
    "N0": -37.65, "N1": -30.41, "N2": -16.96, "N3": -10.43,
}  # fmt: skip
AS_DRAWN = {
    "P0": 35.81, "P1": 28.87, "P2": 20.66, "P3": 12.00, "P4": 6.78, "P5": 15.38,
    "N0": -37.67, "N1": -30.22, "N2": -18.12, "N3": -11.10,
}  # fmt: skip


def two_resistors(volts: float, upper: float, lower: float, meter_ohms: float) -> rm.RailMap:
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=volts))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=upper))
    m.add(rm.Resistor("R2", "A", "0V", ohms=lower))
    m.add_meter("meter", input_ohms=meter_ohms)
    return m


def test_a_meter_of_ten_megohms_on_a_divider_of_quarter_gigohms() -> None:
    """Kuphaldt, *Lessons In Electric Circuits*, volume I, chapter 8: 0.8889 V instead of 12 V.

    Across the upper resistor the printed 23.1111 V is what that one then holds; the meter across
    it reads 0.8889 V too, by symmetry.
    """
    m = two_resistors(24, 250e6, 250e6, 10e6)
    points = [rm.Reading("A", volts=0, meter="meter"), rm.Reading("R1", volts=0, meter="meter")]
    shown = [judged.forecast for judged in forecast_points(m, "", points)]
    assert shown == pytest.approx([0.888889, 0.888889], rel=1e-5)


def test_a_meter_of_1600_ohms_a_volt() -> None:
    """Bird, *Electrical Circuit Theory and Technology*, chapter 10, example 5, page 120.

    100 V over 40 k and 60 k: 40 V true across the 40 k, 34.78 V on the 100 V range.
    """
    m = two_resistors(100, 60e3, 40e3, 1600 * 100)
    [shown] = forecast_points(m, "", [rm.Reading("A", volts=0, meter="meter")])
    assert shown.forecast == pytest.approx(34.7826, abs=1e-4)


def test_a_meter_that_draws_nothing_shows_what_is_there() -> None:
    m = two_resistors(24, 250e6, 250e6, 10e6)
    m.add_meter("electrometer", input_ohms=None)
    [shown] = forecast_points(m, "", [rm.Reading("A", volts=0, meter="electrometer")])
    assert shown.forecast == pytest.approx(12, rel=1e-6)


@pytest.fixture(scope="module")
def recorder() -> rm.RailMap:
    m = rm.load(data_dir("example_boards") / "portable_tape_recorder.railmap")
    m.add_setup("bench", mains_volts=236)
    return m


def test_the_recorder_with_drifted_parts(recorder: rm.RailMap) -> None:
    """The invented unit with six faults: an independent script's forecasts, as printed."""
    readings = [rm.Reading(node, volts=v, setup="bench") for node, v in READ.items()]
    readings += [rm.Reading("P0", ripple_pp=1.7, setup="bench")]
    readings += [rm.Reading("P5", ripple_pp=0.154, setup="bench")]
    judged = judge(recorder, readings)
    for one, (node, volts) in zip(judged, AS_DRAWN.items(), strict=False):
        assert one.node == node
        assert one.forecast == pytest.approx(volts, abs=0.02)
    verdict = {(one.node, one.reading.quantity): one.verdict for one in judged}
    assert verdict["P5", "volts"] == "act"
    assert verdict["P0", "ripple_pp"] == verdict["P5", "ripple_pp"] == "act"
    assert verdict["P1", "volts"] == verdict["N2", "volts"] == "watch"
    assert verdict["P0", "volts"] == verdict["P4", "volts"] == "ok"


def test_a_reading_is_compared_with_its_own_setup(recorder: rm.RailMap) -> None:
    low, high = judge(
        recorder, [rm.Reading("P1", volts=26.8), rm.Reading("P1", volts=28.87, setup="bench")]
    )
    assert low.forecast == pytest.approx(26.8, abs=0.06)
    assert high.forecast == pytest.approx(28.87, abs=0.02)
    assert (low.verdict, high.verdict) == ("ok", "ok")


def test_the_spread_is_that_of_many_draws() -> None:
    """Against seeded draws of all parts from the same distributions, solved each by itself."""
    m = two_resistors(24, 150, 150, 1e7)
    [judged] = judge(m, [rm.Reading("A", volts=12.0, meter="meter")])
    chance = np.random.default_rng(7)
    drawn = [
        rm.what_if(
            V1=24 * (1 + chance.uniform(-0.01, 0.01)), R1=150 * (1 + chance.uniform(-0.05, 0.05)),
            R2=150 * (1 + chance.uniform(-0.05, 0.05)),
        )
        for _ in range(4000)
    ]  # fmt: skip
    background = float(np.std(rm.solve_many(m, drawn).volts("A")))
    assert judged.spread**2 - judged.meter_spread**2 == pytest.approx(background**2, rel=0.1)


def test_what_cannot_be_forecast_has_no_verdict(recorder: rm.RailMap) -> None:
    gone, cold = judge(recorder, [rm.Reading("X9", volts=3.0), rm.Reading("R101", cold_ohms=39.2)])
    assert (gone.node, gone.verdict) == ("", "")
    assert (cold.node, cold.verdict) == ("R101", "")
    assert isnan(gone.forecast)
    assert isnan(cold.forecast)


def test_limits_are_the_users() -> None:
    assert [Limits(1.0, 5.0).verdict(x) for x in (0.5, -4.0, 6.0)] == ["ok", "watch", "act"]


def test_a_part_that_was_measured_spreads_its_rail_less() -> None:
    m = two_resistors(24, 150, 150, 1e7)
    m.add_reading(rm.Reading("A", volts=12.0))
    measured = m.copy()
    for ref in ("R1", "R2"):
        measured.parts[ref] = m.parts[ref].with_found(150.0, source="cold, lifted")
    [before], [after] = (judge(some, some.readings.values()) for some in (m, measured))
    assert after.forecast == pytest.approx(before.forecast)
    assert after.spread < 0.6 * before.spread


def test_no_points_have_no_forecasts(recorder: rm.RailMap) -> None:
    assert forecast_points(recorder, "bench", []) == []
