"""How far off a meter may be, against worked examples and the guide to uncertainty."""

from __future__ import annotations

from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

import railmap as rm
from railmap.bench.metering import error_limit, meter_of, resolution, uncertainties, uncertainty


def test_percent_and_a_digit() -> None:
    """Bell, *Electronic Instrumentation and Measurements*, example 6-2, page 149.

    20 V on a meter of three and a half digits, 0.6 % of reading and one digit (0.1 V): 0.22 V,
    1.1 %.
    """
    digital = rm.Accuracy(pct=0.6, counts=1, full_counts=2000)
    assert error_limit(digital, 20.0) == pytest.approx(0.22)
    assert error_limit(digital, 20.0) / 20.0 == pytest.approx(0.011)


def test_full_scale_of_a_pointer_is_a_least_error() -> None:
    """The same example: 25 V range, 2 % of full scale, is 0.5 V at 20 V, 2.5 %."""
    pointer = rm.Accuracy(least=0.02 * 25)
    assert error_limit(pointer, 20.0) / 20.0 == pytest.approx(0.025)


@given(value=st.floats(1e-3, 1e5), full=st.sampled_from([100.0, 2000.0, 6000.0, 20000.0]))
def test_a_range_holds_its_value_and_the_next_lower_does_not(value: float, full: float) -> None:
    step = resolution(rm.Accuracy(full_counts=full), value)
    assert value < full * step * (1 + 1e-9)
    assert step <= 1.0001e-5 or value >= full * step / 10 * (1 - 1e-9)


def test_a_limit_is_a_rectangular_distribution() -> None:
    """JCGM 100:2008, 4.3.7: a half width of a stands for a standard uncertainty of a / sqrt 3."""
    m = rm.RailMap()
    reading = rm.Reading("A", volts=20.0)
    limit = error_limit(meter_of(m, reading).volts, 20.0)
    assert sum(uncertainties(m, reading)) == pytest.approx(limit / sqrt(3))
    assert uncertainty(m, reading) == pytest.approx(hypot(*uncertainties(m, reading)))


def test_a_reading_is_as_good_as_its_own_meter() -> None:
    m = rm.RailMap()
    m.add_meter("bench", volts=rm.Accuracy(pct=0.05, counts=1, full_counts=20000))
    usual, bench = rm.Reading("A", volts=12.0), rm.Reading("A", volts=12.0, meter="bench")
    assert uncertainty(m, bench) < uncertainty(m, usual) / 5
