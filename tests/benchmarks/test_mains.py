"""How long maps take that a winding feeds.

Aims on two cores: three boards 15 ms from a near state, eight boards 60 ms; 1,000 what-ifs of the
three-board map 1.5 s.
"""

from typing import Any

import numpy as np
import pytest

import railmap as rm
from railmap.resources import data_dir
from railmap.solve.front import turn_circuit
from railmap.solve.what_if import carry_out

Bench = Any


def _example(name: str) -> rm.RailMap:
    return rm.load(data_dir("example_boards") / f"{name}.railmap")


@pytest.mark.parametrize("name", ["small_receiver", "portable_tape_recorder", "mixing_console"])
def test_from_rest(benchmark: Bench, name: str) -> None:
    m = _example(name)
    assert benchmark(rm.solve, m, mains_volts=238).status == "solved"


@pytest.mark.parametrize(
    ("name", "ref"),
    [("small_receiver", "R1"), ("portable_tape_recorder", "R101"), ("mixing_console", "R101")],
)
def test_after_one_value_changed(benchmark: Bench, name: str, ref: str) -> None:
    m = _example(name)
    state = turn_circuit(m, carry_out(m, rm.what_if()))
    ohms = m.parts[ref].now() or 1.0
    turn = iter(range(10**9))

    def follow() -> Any:
        change = rm.what_if({ref: ohms * (1 + 0.02 * (next(turn) % 5))})
        return turn_circuit(m, carry_out(m, change), state)

    assert benchmark(follow).found.all()


def test_a_thousand_what_ifs(benchmark: Bench) -> None:
    m = _example("portable_tape_recorder")
    tried = [rm.what_if(R101=float(ohms)) for ohms in np.linspace(17, 66, 1000)]
    many = benchmark.pedantic(rm.solve_many, (m, tried), rounds=2)
    assert many.solved.all()
