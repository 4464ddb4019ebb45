"""The faults that are thought of, and what is thought of them before anything is read."""

from __future__ import annotations

import numpy as np
import pytest

import railmap as rm
from railmap.bench.faults import DRIED, DRIFTED, LEAKING, MAINS, OPENED, faults_of
from railmap.bench.priors import Priors
from railmap.resources import data_dir


@pytest.fixture(scope="module")
def calm() -> rm.Solution:
    m = rm.load(data_dir("example_boards") / "portable_tape_recorder.railmap")
    return rm.solve(m, mains_volts=238)


def test_every_part_in_circuit_may_fail_and_so_may_the_mains(calm: rm.Solution) -> None:
    faults = faults_of(calm, Priors())
    assert {f.ref for f in faults} == {*calm.refs, MAINS}
    assert all(0 < f.chance < 1 for f in faults)


def test_what_a_fault_changes_is_its_size_times_the_value(calm: rm.Solution) -> None:
    for fault in faults_of(calm, Priors()):
        if fault.word not in (DRIFTED, DRIED) or fault.ref == MAINS:
            continue
        for x, change in zip(fault.x, fault.changes, strict=True):
            assert (change is None) == (x == 0)
            if change is not None:
                value = change.parts[fault.ref][fault.field]  # type: ignore[index]
                assert value == pytest.approx(fault.base * np.exp(x))


def test_a_curve_is_looked_at_where_its_size_is_likely(calm: rm.Solution) -> None:
    for fault in faults_of(calm, Priors()):
        x, weight = fault.fine()
        assert np.exp(weight).sum() == pytest.approx(1.0, abs=1e-6)
        assert x[0] == fault.x[0]
        assert x[-1] == pytest.approx(fault.x[-1])


def test_a_hot_resistor_is_thought_of_before_a_cool_one(calm: rm.Solution) -> None:
    chance = {f.ref: f.chance for f in faults_of(calm, Priors()) if f.word == DRIFTED}
    assert calm.part("R202").stress > 1 > calm.part("R203").stress
    assert chance["R202"] > 2 * chance["R203"]


def test_what_was_measured_is_not_thought_to_be_otherwise() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=10))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    m.add(rm.Resistor("R2", "A", "0V", ohms=100).with_found(110.0, source="cold, lifted"))
    chance = {f.ref: f.chance for f in faults_of(rm.solve(m), Priors()) if f.word == DRIFTED}
    assert chance["R2"] < 0.5 * chance["R1"]
    assert Priors().spread(m.parts["R2"]) < Priors().spread(m.parts["R1"])


def test_what_is_out_of_circuit_is_not_suspected(calm: rm.Solution) -> None:
    board = next(p.board for p in calm.source.parts.values() if p.ref == "R202")
    setup = rm.Setup(unplugged=(board,))
    assert "R202" not in {f.ref for f in faults_of(rm.solve(calm.source, setup=setup), Priors())}


def test_a_charged_capacitor_may_leak_and_one_without_volts_may_not() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "A", "0V", volts=10))
    m.add(rm.Capacitor("C1", "A", "0V", farads=1e-4))
    m.add(rm.Capacitor("C2", "0V", "0V", farads=1e-4))
    words = {(f.ref, f.word) for f in faults_of(rm.solve(m), Priors())}
    assert ("C1", LEAKING) in words
    assert ("C2", LEAKING) not in words
    assert ("C2", OPENED) in words
