"""How long a map of 1,000 parts takes without mains: to assemble, to solve, to follow a value.

Aims on two cores: 30 ms to solve with the structure built, 5 ms after one value has changed, all
sensitivities within 100 ms and at least 50 times quicker than part by part.
"""

import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import railmap as rm
from railmap.solve.assemble import assemble, with_part
from railmap.solve.front import solve_network
from railmap.solve.what_if import carry_out

Bench = Any
Build = Callable[[int], rm.RailMap]


def test_assemble(benchmark: Bench, thousand: rm.RailMap) -> None:
    circuit = carry_out(thousand, rm.what_if())
    network = benchmark(assemble, circuit)
    assert len(network.refs) == 1000


def test_solve_with_the_structure_built(benchmark: Bench, thousand: rm.RailMap) -> None:
    network = assemble(carry_out(thousand, rm.what_if()))
    solution = benchmark(solve_network, thousand, network)
    assert solution.status == "solved"


def test_solve_after_one_value_changed(benchmark: Bench, thousand: rm.RailMap) -> None:
    network = assemble(carry_out(thousand, rm.what_if()))
    start = solve_network(thousand, network)
    ref = next(r for r, p in thousand.parts.items() if isinstance(p, rm.Resistor))
    part = network.circuit.parts[ref]
    turn = iter(range(10**9))

    def follow() -> rm.Solution:
        changed = with_part(network, part.with_value(part.ohms * (1.1 + 0.1 * (next(turn) % 7))))
        assert changed is not None
        return solve_network(thousand, changed, start.operating)

    assert benchmark(follow).status == "solved"


def test_stress_of_every_part(benchmark: Bench, thousand: rm.RailMap) -> None:
    network = assemble(carry_out(thousand, rm.what_if()))
    solution = solve_network(thousand, network)

    def look() -> np.ndarray:
        anew = rm.Solution(thousand, network, solution.operating, "solved", ())
        return anew.stress

    assert np.nanmax(benchmark(look)) < 1


def test_all_sensitivities(benchmark: Bench, thousand: rm.RailMap) -> None:
    solution = rm.solve(thousand)
    found = benchmark(rm.sensitivities, solution)
    assert found.volts.shape[1] == 1000


def test_sensitivity_of_one_part_by_solving_anew(benchmark: Bench, thousand: rm.RailMap) -> None:
    """To be set against all sensitivities at once: that, times 1,000 parts."""
    network = assemble(carry_out(thousand, rm.what_if()))
    start = solve_network(thousand, network)
    ref = next(r for r, p in thousand.parts.items() if isinstance(p, rm.Resistor))
    part = network.circuit.parts[ref]

    def anew() -> rm.Solution:
        changed = with_part(network, part.with_value(part.ohms * 1.001))
        assert changed is not None
        return solve_network(thousand, changed, start.operating)

    assert benchmark(anew).status == "solved"


@pytest.mark.parametrize("size", [40, 60, 80, 100, 120, 160, 320, 640])
@pytest.mark.parametrize("way", ["dense", "sparse"])
def test_where_sparse_overtakes_dense(
    benchmark: Bench, large_map: Build, monkeypatch: pytest.MonkeyPatch, way: str, size: int
) -> None:
    """By unknowns. Dense algebra takes all cores from about 100 on: quiet them to compare."""
    equations = sys.modules["railmap.solve.equations"]
    monkeypatch.setattr(equations, "SPARSE_FROM", 0 if way == "sparse" else 10**9)
    m = large_map(3 * size)
    network = assemble(carry_out(m, rm.what_if()))
    benchmark.extra_info["unknowns"] = network.topology.free
    assert benchmark(solve_network, m, network).status == "solved"


def _draws(m: rm.RailMap, count: int) -> list[rm.WhatIf]:
    rng = np.random.default_rng(5)
    droppers = [r for r, p in m.parts.items() if isinstance(p, rm.Resistor)]
    return [
        rm.what_if({r: m.parts[r].now() * f for r, f in zip(droppers, row, strict=True)})  # type: ignore[operator]
        for row in 1 + 0.05 * rng.standard_normal((count, len(droppers)))
    ]


def test_ten_thousand_tolerance_draws(benchmark: Bench, large_map: Build) -> None:
    m = large_map(60)
    tried = _draws(m, 10_000)
    benchmark.extra_info["nodes"] = len(m.nodes)
    many = benchmark.pedantic(rm.solve_many, (m, tried), rounds=3)
    assert many.solved.all()


def test_bare_batch_of_the_same_size(benchmark: Bench, large_map: Build) -> None:
    """What numpy alone takes for as many matrices of that size, for comparison."""
    free = assemble(carry_out(large_map(60), rm.what_if())).topology.free
    rng = np.random.default_rng(6)
    matrices = rng.standard_normal((10_000, free, free)) + free * np.eye(free)
    right = rng.standard_normal((10_000, free, 1))
    benchmark.extra_info["unknowns"] = free
    benchmark.pedantic(np.linalg.solve, (matrices, right), rounds=3)
