"""Each family of laws by itself: slopes, pieces, what happens where pieces meet, and symmetry."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from railmap.solve import laws, laws_three
from railmap.solve.laws import COLD_FRACTION, LAMP_POWER, OFF_SIEMENS
from railmap.solve.laws_three import (
    ACTIVE,
    BLOCKED,
    CUT,
    DROPPED,
    HOLDING,
    LIMITED,
    RAMP,
    REST_SIEMENS,
    REVERSED,
    SATURATED,
    STARVED,
)

STEP_VOLTS = 1e-4
"""Half the step of a finite difference."""


def row(kind: type[Any], pins: int, **numbers: float) -> Any:
    """Return a family of one row on the nodes 0, 1, 2 ..."""
    places = np.arange(pins)[None, :]
    return kind(places, places, **{name: np.array([value]) for name, value in numbers.items()})


def at(family: Any, v: Any, mode: int) -> tuple[np.ndarray, np.ndarray]:
    """Return currents and slopes of a family of one row, without the axis of rows."""
    amps, slopes = family.evaluate(np.asarray(v, dtype=float), np.array([mode]))
    return amps[0], slopes[0]


def asked(family: Any, v: Any, mode: int) -> int:
    return int(family.next_mode(np.asarray(v, dtype=float), np.array([mode]))[0])


CONDUCTOR = row(laws.Conductors, 2, siemens=0.02, volts=9.0)
RESISTIVE = row(laws.ResistiveLoads, 2, siemens=0.02, volts=0.0)
JUNCTION = row(
    laws.Junctions, 2, forward_volts=0.75, forward_siemens=20.0, reverse_volts=6.7,
    reverse_siemens=0.2,
)  # fmt: skip
STEADY = row(laws.SteadyLoads, 2, amps=0.1, collapse_volts=0.5)
POWER = row(laws.PowerLoads, 2, watts=1.2, collapse_volts=6.0)
LAMP = row(laws.Lamps, 2, amps=0.16, at_volts=11.2)


def regulator(sign: float = 1.0, limit: float = 1.0) -> Any:
    return row(
        laws_three.Regulators, 3, sign=sign, volts=12.0, dropout_volts=2.0, limit_amps=limit,
        siemens=1000.0,
    )  # fmt: skip


def converter(sign: float = 1.0, limit: float = 1.0) -> Any:
    return row(
        laws_three.Converters, 3, sign=sign, volts=5.0, efficiency=0.8, min_input_volts=8.0,
        limit_amps=limit, siemens=1000.0,
    )  # fmt: skip


def output(sign: float = 1.0, limit: float = 1.0) -> Any:
    return row(
        laws_three.Outputs, 3, sign=sign, volts=5.0, limit_amps=limit, siemens=1000.0,
        input_siemens=0.01,
    )  # fmt: skip


def transistor(sign: float = 1.0) -> Any:
    return row(
        laws_three.Transistors, 3, sign=sign, gain=50.0, forward_volts=0.7, base_siemens=0.4,
        saturation_siemens=5.0,
    )  # fmt: skip


@dataclass(frozen=True)
class Case:
    """A family with its modes, and how far some volts are from the bends inside a mode.

    A curve that is only followed on its own piece has a bend at its end, and 0 beyond it.
    """

    family: Any
    modes: tuple[int, ...]
    bends: Callable[[np.ndarray, int], list[float]] = lambda v, mode: []


def _converter_bends(v: np.ndarray, _: int) -> list[float]:
    seen = abs(v[0] - v[2])
    return [seen, seen - RAMP * 8.0, seen - 8.0, abs(v[1] - v[2])]


def _power_bends(v: np.ndarray, mode: int) -> list[float]:
    return [max(0.0, mode * (v[0] - v[1]) - 6.0)] if mode else []


REGULATED = (BLOCKED, HOLDING, DROPPED, LIMITED, STARVED)
CASES = {
    "conductor": Case(CONDUCTOR, (0,)),
    "resistive load": Case(RESISTIVE, (0,)),
    "junction": Case(JUNCTION, (0, 1, 2)),
    "steady load": Case(STEADY, (-1, 0, 1)),
    "power load": Case(POWER, (-1, 0, 1), _power_bends),
    "lamp": Case(LAMP, (0,), lambda v, _: [abs(v[0] - v[1]) - COLD_FRACTION * 11.2]),
    "regulator": Case(regulator(), REGULATED),
    "negative regulator": Case(regulator(-1.0), REGULATED),
    "converter": Case(converter(), (BLOCKED, HOLDING, LIMITED), _converter_bends),
    "inverting converter": Case(converter(-1.0), (BLOCKED, HOLDING, LIMITED), _converter_bends),
    "output": Case(output(), (BLOCKED, HOLDING, LIMITED)),
    "inverting output": Case(output(-1.0), (BLOCKED, HOLDING, LIMITED)),
    "npn": Case(transistor(), (CUT, ACTIVE, SATURATED, REVERSED)),
    "pnp": Case(transistor(-1.0), (CUT, ACTIVE, SATURATED, REVERSED)),
}
each_case = pytest.mark.parametrize("name", CASES)
some_volts = st.lists(st.floats(-40, 40), min_size=3, max_size=3).map(np.array)


@each_case
@given(v=some_volts, data=st.data())
def test_slopes_are_those_of_the_currents(name, v, data):
    case = CASES[name]
    mode = data.draw(st.sampled_from(case.modes))
    assume(all(abs(far) > 10 * STEP_VOLTS for far in case.bends(v, mode)))
    amps, slopes = at(case.family, v, mode)
    for k in range(len(amps)):
        step = np.zeros(3)
        step[k] = STEP_VOLTS
        over, under = (at(case.family, v + s, mode)[0] for s in (step, -step))
        found = (over - under) / (2 * STEP_VOLTS)
        size = max(np.max(np.abs(amps)), np.max(np.abs(slopes)), 1e-9)
        assert slopes[:, k] == pytest.approx(found, rel=1e-5, abs=1e-6 * size)


@each_case
@given(v=some_volts, data=st.data())
def test_what_flows_in_flows_out(name, v, data):
    case = CASES[name]
    amps, slopes = at(case.family, v, data.draw(st.sampled_from(case.modes)))
    size = np.max(np.abs(slopes)) * 100 + np.max(np.abs(amps))
    assert abs(np.sum(amps)) <= 1e-14 * size
    assert np.max(np.abs(np.sum(slopes, axis=0))) <= 1e-14 * size
    # Only differences of voltage count.
    assert np.max(np.abs(np.sum(slopes, axis=1))) <= 1e-14 * size


@each_case
@given(v=st.lists(some_volts, min_size=2, max_size=2).map(np.array), data=st.data())
def test_leading_axes_are_kept(name, v, data):
    case = CASES[name]
    modes = np.array([[data.draw(st.sampled_from(case.modes))] for _ in v])
    amps, slopes = case.family.evaluate(v, modes)
    wanted = case.family.next_mode(v, modes)
    for one, mode, i, g, new in zip(v, modes, amps, slopes, wanted, strict=True):
        alone = case.family.evaluate(one, mode)
        assert np.array_equal(i, alone[0])
        assert np.array_equal(g, alone[1])
        assert np.array_equal(new, case.family.next_mode(one, mode))


@each_case
@given(v=st.lists(some_volts, min_size=2, max_size=2).map(np.array), data=st.data())
def test_numbers_may_have_the_same_leading_axes(name, v, data):
    """As many what-ifs have them: each its own numbers, volts and modes; here for two rows."""
    case = CASES[name]
    choice = st.sampled_from(case.modes)
    modes = np.array([[data.draw(choice), data.draw(choice)] for _ in v])
    pins = np.concatenate((case.family.pins, case.family.pins[:, ::-1]))
    numbers = {n: x for n, x in vars(case.family).items() if n not in ("pins", "slots")}
    single = []
    for factor in (1.0, 1.07):
        rows = {
            n: np.tile(x, 2) * np.array([1.0, 1.0 if n == "sign" else factor])
            for n, x in numbers.items()
        }
        single.append(replace(case.family, pins=pins, slots=pins, **rows))
    stacked = {n: np.stack([getattr(one, n) for one in single]) for n in numbers}
    many = replace(single[0], **stacked)
    amps, slopes = many.evaluate(v, modes)
    wanted = many.next_mode(v, modes)
    for k, one in enumerate(single):
        alone = one.evaluate(v[k], modes[k])
        assert np.array_equal(amps[k], alone[0])
        assert np.array_equal(slopes[k], alone[1])
        assert np.array_equal(wanted[k], one.next_mode(v[k], modes[k]))


@each_case
@given(v=some_volts)
def test_a_law_asks_for_a_mode_it_then_stays_in(name, v):
    case = CASES[name]
    mode = case.family.first_mode
    for _ in range(4):
        new = asked(case.family, v, mode)
        assert new in case.modes
        if new == mode:
            return
        mode = new
    raise AssertionError("the modes go round in circles")


@each_case
@given(v=some_volts, data=st.data())
def test_bounds_tell_when_another_mode_is_asked_for(name, v, data):
    case = CASES[name]
    if not hasattr(case.family, "bounds"):
        return
    mode = data.draw(st.sampled_from(case.modes))
    slopes, constants = case.family.bounds(np.array([mode]))
    pins = case.family.pins[0]
    left = (slopes @ v[pins] + constants)[0]
    assume(np.all(np.abs(left) > 1e-9))
    assert (asked(case.family, v, mode) == mode) == bool(np.all(left > 0))


# Volts where two pieces meet, and the modes of both.
KNEES = {
    "junction, forward": (JUNCTION, (0.75, 0.0), (0, 1)),
    "junction, breakdown": (JUNCTION, (0.0, 6.7), (0, 2)),
    "steady load": (STEADY, (0.5, 0.0), (0, 1)),
    "steady load, reversed": (STEADY, (0.0, 0.5), (0, -1)),
    "power load": (POWER, (6.0, 0.0), (0, 1)),
    "power load, reversed": (POWER, (0.0, 6.0), (0, -1)),
    "regulator without current": (regulator(), (30.0, 12.0, 0.0), (BLOCKED, HOLDING)),
    "regulator at its limit": (regulator(), (30.0, 11.999, 0.0), (HOLDING, LIMITED)),
    "regulator about to drop out": (regulator(), (14.0, 11.99975, 0.0), (HOLDING, DROPPED)),
    "dropped out without current": (regulator(), (10.0, 8.0, 0.0), (STARVED, DROPPED)),
    "dropped out at the limit": (regulator(), (10.0, 7.999, 0.0), (DROPPED, LIMITED)),
    "negative regulator": (regulator(-1.0), (-30.0, -11.999, 0.0), (HOLDING, LIMITED)),
    "converter without current": (converter(), (12.0, 5.0, 0.0), (BLOCKED, HOLDING)),
    "converter at its limit": (converter(), (12.0, 4.999, 0.0), (HOLDING, LIMITED)),
    "transistor about to open": (transistor(), (10.0, 0.7, 0.0), (CUT, ACTIVE)),
    "transistor about to saturate": (transistor(), (0.4, 0.8, 0.0), (ACTIVE, SATURATED)),
    "transistor without collector volts": (transistor(), (0.0, 0.8, 0.0), (SATURATED, REVERSED)),
    "pnp about to saturate": (transistor(-1.0), (-0.4, -0.8, 0.0), (ACTIVE, SATURATED)),
}  # fmt: skip


@pytest.mark.parametrize("name", KNEES)
def test_pieces_meet(name):
    family, v, (one, other) = KNEES[name]
    assert at(family, v, one)[0] == pytest.approx(at(family, v, other)[0], rel=1e-9, abs=1e-10)


@pytest.mark.parametrize(
    ("family", "below", "above"),
    [
        (LAMP, (COLD_FRACTION * 11.2 * (1 - 1e-9), 0.0), (COLD_FRACTION * 11.2 * (1 + 1e-9), 0.0)),
        (converter(), (8.0 * (1 - 1e-9), 4.0, 0.0), (8.0 * (1 + 1e-9), 4.0, 0.0)),
        (converter(), (12.0, 1e-9, 0.0), (12.0, -1e-9, 0.0)),
    ],
    ids=["lamp, cold", "converter, least input", "converter, no output"],
)
def test_bends_inside_a_piece_are_no_steps(family, below, above):
    mode = family.first_mode
    one, other = at(family, below, mode)[0], at(family, above, mode)[0]
    assert one == pytest.approx(other, rel=1e-5, abs=1e-5)


# Volts well inside a piece, and the mode they ask for from any other.
PIECES = {
    "junction blocks": (JUNCTION, (0.7, 0.0), 0),
    "junction blocks backwards": (JUNCTION, (0.0, 6.6), 0),
    "junction conducts": (JUNCTION, (0.8, 0.0), 1),
    "junction breaks down": (JUNCTION, (0.0, 6.8), 2),
    "steady load collapsed": (STEADY, (0.4, 0.0), 0),
    "steady load": (STEADY, (0.6, 0.0), 1),
    "steady load reversed": (STEADY, (0.0, 0.6), -1),
    "power load collapsed": (POWER, (5.0, 0.0), 0),
    "power load": (POWER, (7.0, 0.0), 1),
    "power load reversed": (POWER, (0.0, 7.0), -1),
    "regulator holds": (regulator(), (20.0, 11.9995, 0.0), HOLDING),
    "regulator dropped out": (regulator(), (12.0, 9.9995, 0.0), DROPPED),
    "regulator limits": (regulator(), (20.0, 5.0, 0.0), LIMITED),
    "regulator blocks from behind": (regulator(), (20.0, 13.0, 0.0), BLOCKED),
    "negative regulator holds": (regulator(-1.0), (-20.0, -11.9995, 0.0), HOLDING),
    "regulator starved": (regulator(), (10.0, 9.0, 0.0), STARVED),
    "negative regulator starved": (regulator(-1.0), (20.0, 0.0, 0.0), STARVED),
    "converter holds": (converter(), (12.0, 4.9995, 0.0), HOLDING),
    "converter fed backwards holds": (converter(), (-12.0, 4.9995, 0.0), HOLDING),
    "converter limits": (converter(), (12.0, 4.0, 0.0), LIMITED),
    "converter blocks from behind": (converter(), (12.0, 6.0, 0.0), BLOCKED),
    "converter blocks without input": (converter(), (2.0, 1.0, 0.0), BLOCKED),
    "transistor cut off": (transistor(), (10.0, 0.6, 0.0), CUT),
    "transistor active": (transistor(), (10.0, 0.8, 0.0), ACTIVE),
    "transistor saturated": (transistor(), (0.1, 0.8, 0.0), SATURATED),
    "transistor reversed": (transistor(), (-1.0, 0.8, 0.0), REVERSED),
    "pnp active": (transistor(-1.0), (-10.0, -0.8, 0.0), ACTIVE),
}  # fmt: skip


@pytest.mark.parametrize("name", PIECES)
def test_every_piece_is_found_from_every_other(name):
    family, v, wanted = PIECES[name]
    case = next(c for c in CASES.values() if type(c.family) is type(family))
    for start in case.modes:
        mode = start
        for _ in range(4):
            mode = asked(family, v, mode)
        assert mode == wanted


LOADS = {"resistive": RESISTIVE, "steady": STEADY, "power": POWER, "lamp": LAMP}


@pytest.mark.parametrize("name", LOADS)
@given(volts=st.floats(-40, 40))
def test_loads_take_the_same_from_either_polarity(name, volts):
    family = LOADS[name]
    there, back = (asked(family, (v, 0.0), 0) for v in (volts, -volts))
    forwards, backwards = at(family, (volts, 0.0), there), at(family, (-volts, 0.0), back)
    assert there == -back
    assert np.array_equal(forwards[0], -backwards[0])
    assert np.array_equal(forwards[1], backwards[1])


@given(volts=st.floats(0.51, 1e4))
def test_steady_current(volts):
    assert at(STEADY, (volts, 0.0), 1)[0] == pytest.approx([0.1, -0.1], rel=1e-8)


def test_a_steady_load_turns_round_by_way_of_nothing():
    assert asked(STEADY, (0.0, 9.0), 1) == 0
    assert asked(STEADY, (0.0, 9.0), 0) == -1


@given(volts=st.floats(6.01, 1e4))
def test_power_load(volts):
    amps = at(POWER, (volts, 0.0), 1)[0]
    assert amps[0] * volts == pytest.approx(1.2)


def test_a_power_load_that_left_its_piece_keeps_to_the_end_of_its_curve():
    assert at(POWER, (1.0, 0.0), 1)[0][0] == pytest.approx(1.2 / 6.0)


@given(volts=st.floats(0.1, 1e3))
def test_lamp(volts):
    # Fink and Beaty, Standard Handbook for Electrical Engineers, 11th ed. 1978, p. 22-8, as quoted
    # in the encyclopedia article "Lamp rerating": current as volts to the power 0.55.
    assert LAMP_POWER == 0.55
    assert at(LAMP, (volts, 0.0), 0)[0][0] == pytest.approx(0.16 * (volts / 11.2) ** 0.55)


def test_lamp_at_its_own_volts():
    assert at(LAMP, (11.2, 0.0), 0)[0][0] == pytest.approx(0.16, rel=1e-12)


def test_a_cold_lamp_is_a_resistance():
    # OpenStax University Physics 2, section 9.3: 4.8 ohms hot and 0.35 ohms cold.
    amps, slopes = at(LAMP, (1e-3, 0.0), 0)
    assert amps[0] / slopes[0, 0] == pytest.approx(1e-3)
    assert (11.2 / 0.16) * slopes[0, 0] == pytest.approx(4.8 / 0.35, rel=0.01)


@given(vin=st.floats(8.01, 40), vout=st.floats(4.9, 5.0))
def test_converter_power(vin, vout):
    amps = at(converter(limit=np.inf), (vin, vout, 0.0), HOLDING)[0]
    sent = -amps[1] * vout
    # What leaks through beside the conversion is counted apart.
    taken = (amps[0] - OFF_SIEMENS * vin) * vin
    assert taken * 0.8 == pytest.approx(sent + OFF_SIEMENS * vout**2, rel=1e-9, abs=1e-12)


def test_converter_starts_between_nine_tenths_and_all_of_its_least_input():
    held = converter(limit=np.inf)
    for vin, volts in ((7.2, 0.0), (7.6, 2.5), (8.0, 5.0), (30.0, 5.0)):
        amps = at(held, (vin, volts - 1e-3, 0.0), HOLDING)[0]
        assert -amps[1] == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_transistor_gain(sign):
    amps = at(transistor(sign), (sign * 10, sign * 0.8, 0.0), ACTIVE)[0]
    assert amps[1] == pytest.approx(sign * 0.4 * 0.1, rel=1e-6)
    assert amps[0] / amps[1] == pytest.approx(50, rel=1e-6)


def test_a_regulator_never_passes_backwards_nor_more_than_its_limit():
    for v, mode, amps in (
        # Blocked, all that enters is what leaks to the common pin.
        ((30.0, 20.0, 0.0), BLOCKED, 30 * REST_SIEMENS),
        ((30.0, 0.0, 0.0), LIMITED, 1.0),
    ):
        assert at(regulator(), v, mode)[0][0] == pytest.approx(amps, rel=1e-6)


def test_from_the_limit_to_nothing_and_back_only_by_way_of_holding():
    v_behind, v_short = (30.0, 13.0, 0.0), (30.0, 1.0, 0.0)
    assert asked(regulator(), v_behind, LIMITED) == HOLDING
    assert asked(regulator(), v_short, BLOCKED) == HOLDING
    assert asked(converter(), v_behind, LIMITED) == HOLDING
    assert asked(converter(), v_short, BLOCKED) == HOLDING


def test_a_holding_regulator_without_input_drops_out_before_it_blocks():
    assert asked(regulator(), (1.0, 5.0, 0.0), HOLDING) == DROPPED
    assert asked(regulator(), (1.0, 5.0, 0.0), DROPPED) == STARVED


def test_rows_do_not_know_of_each_other():
    both = replace(
        STEADY, pins=np.array([[0, 1], [1, 2]]), slots=np.array([[0, 1], [2, 3]]),
        amps=np.array([0.1, 0.3]), collapse_volts=np.array([0.5, 2.0]),
    )  # fmt: skip
    v = np.array([10.0, 1.0, 0.0])
    assert both.next_mode(v, np.array([0, 0])).tolist() == [1, 0]
    amps, _ = both.evaluate(v, np.array([1, 0]))
    assert amps[:, 0] == pytest.approx([0.1, 0.15], rel=1e-9)
