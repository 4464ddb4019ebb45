"""The direct-current image and the ripple behind raw rails agree with the periodic state."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import railmap as rm
from railmap.errors import MapError
from railmap.model import kinds
from railmap.resources import data_dir
from railmap.solve.hum import Hum
from railmap.solve.image import Image, image_of

FED = ("small_receiver", "portable_tape_recorder")


def example(name: str) -> rm.RailMap:
    return rm.load(data_dir("example_boards") / f"{name}.railmap")


def behind(image: Image, kind: type[rm.Part]) -> list[str]:
    """Parts of a kind behind the raw rails, none of them on one."""
    raw = {port.node for port in image.ports}
    return [
        ref for ref, part in image.m.parts.items()
        if isinstance(part, kind) and raw.isdisjoint(part.nodes)
    ]  # fmt: skip


@pytest.mark.parametrize("name", FED)
def test_an_image_shows_the_means_of_the_periodic_state(name: str) -> None:
    m = example(name)
    calm = rm.solve(m, mains_volts=236)
    image = image_of(m, calm)
    assert image.misses < 1e-4
    refs = [r for r, p in image.m.parts.items() if isinstance(p, kinds.Resistor) and r in m.parts]
    changes = [rm.what_if({r: m.parts[r].now() * f}) for r in refs for f in (0.5, 1.3, 3.0)]
    changes += [rm.what_if({r: rm.OPEN}) for r in behind(image, kinds.Load)]
    seen, exact = image.means(changes), rm.solve_many(m, changes, mains_volts=236)
    for node in seen.nodes:
        true, scale = exact.volts(node), max(abs(calm.volts(node)), 1.0)
        solved = np.isfinite(true)
        assert np.abs(seen.of(node) - true)[solved].max() < 2e-3 * scale, node


def test_an_image_tells_what_raw_rails_and_parts_carry() -> None:
    m = example("portable_tape_recorder")
    calm = rm.solve(m)
    change = rm.what_if(R104=540.0)
    seen = image_of(m, calm).means([change], amps_of=["R104"])
    exact = rm.solve(m, change=change)
    assert seen.part_amps["R104"][0] == pytest.approx(exact.part("R104").amps, rel=2e-3)
    assert abs(seen.port_amps[0]).sum() < sum(abs(p.calm_amps) for p in image_of(m, calm).ports)


@pytest.mark.parametrize("name", FED)
def test_a_capacitor_behind_a_dropper_changes_ripple_as_in_the_periodic_state(name: str) -> None:
    """A dried-out one is told by its ripple, so that a twentieth is near enough."""
    m = example(name)
    calm = rm.solve(m)
    image = image_of(m, calm)
    hum, amps = Hum(image), np.array([port.calm_amps for port in image.ports])
    for ref in behind(image, kinds.Capacitor):
        part = calm.network.circuit.parts[ref]
        value = part.now()
        assert value is not None
        for factor in (0.2, 0.6, 1.5):
            changed = part.with_value(value * factor)
            seen = hum.under(ref, changed, amps)
            exact = rm.solve(m, change=rm.what_if({ref: value * factor}))
            for node, volts in zip(hum.nodes, seen, strict=True):
                true = exact.ripple(node).volts_pp
                assert volts == pytest.approx(true, rel=0.05, abs=5e-4), (ref, factor, node)


@settings(max_examples=15, deadline=None)
@given(
    ohms=st.floats(10, 200), load=st.floats(100, 1000), farads=st.floats(500e-6, 5e-3),
    factor=st.floats(0.3, 4),
)  # fmt: skip
def test_a_changed_dropper_is_imaged_on_any_half_wave_supply(
    ohms: float, load: float, farads: float, factor: float
) -> None:
    m = rm.RailMap(mains_volts=230)
    for part in (
        rm.Winding("T1", "AC", "0V", volts_rms=18, ohms=2.5),
        rm.Diode("D1", "AC", "RAW"),
        rm.Capacitor("C1", "RAW", "0V", farads=farads),
        rm.Resistor("R1", "RAW", "A", ohms=ohms),
        rm.Load("L1", "A", "0V", ohms=load),
    ):
        m.add(part)
    change = rm.what_if(R1=ohms * factor)
    try:
        image = image_of(m, rm.solve(m))
    except MapError:
        return  # so much ripple that the raw rail is no direct voltage
    exact = rm.solve(m, change=change)
    seen = image.means([change])
    assert seen.of("A")[0] == pytest.approx(exact.volts("A"), rel=5e-3)
    assert seen.of("RAW")[0] == pytest.approx(exact.volts("RAW"), rel=5e-3)


def test_a_map_without_windings_is_its_own_image() -> None:
    m = rm.RailMap(mains_volts=230)
    for part in (
        rm.Source("V1", "RAW", "0V", volts=24, ohms=0.5, follows_mains=True),
        rm.Resistor("R1", "RAW", "A", ohms=150),
        rm.Load("L1", "A", "0V", ohms=120),
    ):
        m.add(part)
    seen = image_of(m, rm.solve(m, mains_volts=240)).means([rm.what_if(R1=236)])
    exact = rm.solve(m, mains_volts=240, change=rm.what_if(R1=236))
    assert seen.of("A")[0] == pytest.approx(exact.volts("A"), rel=1e-9)


def test_a_raw_rail_without_a_reservoir_has_no_image() -> None:
    m = rm.RailMap()
    for part in (
        rm.Winding("T1", "AC", "0V", volts_rms=18, ohms=2.5),
        rm.Diode("D1", "AC", "RAW"),
        rm.Load("L1", "RAW", "0V", ohms=100),
    ):
        m.add(part)
    with pytest.raises(MapError, match="have no reservoir capacitors"):
        image_of(m, rm.solve(m))
