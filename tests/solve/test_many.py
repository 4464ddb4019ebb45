"""Many what-ifs solved together against each one solved by itself.

Direct-current maps agree to 1e-9 where only numbers change. Where a part is in some what-ifs and
not in others, a link without resistance is one of a microohm: they agree to 1e-6. Periodic maps
agree to 0.05 % of their means and 1 % of their ripple.
"""

from collections.abc import Sequence
from importlib import import_module
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec import inspect

import railmap as rm
from railmap.model.checks import fields_of, options_of
from railmap.resources import data_dir
from railmap.solve.many import Many, solve_many

many_module: Any = import_module("railmap.solve.many")


def still_map() -> rm.RailMap:
    """Own map: a source, droppers, loads of every law, an accessory, a board."""
    m = rm.RailMap(mains_volts=230)
    m.add_board("Main", width_mm=100, height_mm=80)
    m.add_board("Amplifier", width_mm=100, height_mm=80)
    for part in (
        rm.Source("V1", "RAW", "0V", volts=36, ohms=2, follows_mains=True),
        rm.Resistor("R1", "RAW", "A", ohms=100, rated_watts=5, board="Main"),
        rm.Capacitor("C1", "A", "0V", farads=1e-4, leak_ohms=1e5, rated_volts=35, board="Main"),
        rm.Load("L1", "A", "0V", amps=0.05, board="Main"),
        rm.Resistor("R2", "A", "B", ohms=220, rated_watts=2, board="Main"),
        rm.Zener("D1", "B", "0V", zener_volts=12, ohms=5, rated_watts=1, board="Main"),
        rm.Load("L2", "B", "0V", ohms=1500, board="Main"),
        rm.Link("J1", "RAW", "C", ohms=0.02, accessory=True),
        rm.Fuse("F1", "C", "D", rated_amps=1, board="Amplifier"),
        rm.Load("L3", "D", "0V", amps=0.1, at_volts=36, law="lamp", board="Amplifier"),
        rm.Regulator("U1", "D", "E", "0V", volts=12, quiescent_amps=0.004, board="Amplifier"),
        rm.Resistor("R4", "E", "0V", ohms=1e3, board="Amplifier"),
        rm.Load("L4", "E", "0V", amps=0.05, max_volts=15, board="Amplifier"),
    ):
        m.add(part)
    return m


def moving_map() -> rm.RailMap:
    """Own map: a centre-tapped winding, both rails, droppers, a board and an accessory."""
    m = rm.RailMap(mains_volts=230, mains_hertz=50)
    m.add_board("Amplifier", width_mm=100, height_mm=80)
    for part in (
        rm.Winding("T1A", "X", "0V", volts_rms=26, ohms=1.2, rated_amps=1),
        rm.Winding("T1B", "0V", "Y", volts_rms=26, ohms=1.2, rated_amps=1),
        rm.Bridge("B1", "X", "Y", "P", "N", rated_amps=1, rated_inverse_volts=100),
        rm.Capacitor("C1", "P", "0V", farads=1e-3, esr_ohms=0.1, rated_volts=50),
        rm.Capacitor("C2", "0V", "N", farads=4.7e-4, esr_ohms=0.2, rated_volts=50),
        rm.Resistor("R1", "P", "A", ohms=47, rated_watts=5),
        rm.Capacitor("C3", "A", "0V", farads=2.2e-4, rated_volts=40),
        rm.Load("L1", "A", "0V", amps=0.1),
        rm.Resistor("R2", "N", "M", ohms=100, rated_watts=3),
        rm.Load("L2", "0V", "M", ohms=330, max_volts=40),
        rm.Link("J1", "A", "Q", ohms=0.02, accessory=True),
        rm.Resistor("R3", "Q", "Z", ohms=330, rated_watts=1, board="Amplifier"),
        rm.Zener("D1", "Z", "0V", zener_volts=12, ohms=5, board="Amplifier"),
        rm.Load("L3", "Z", "0V", amps=0.01, board="Amplifier"),
    ):
        m.add(part)
    return m


CHANGES: dict[str, rm.WhatIf] = {
    "nothing": rm.what_if(),
    "a drift up": rm.what_if(R1=130),
    "a drift down": rm.what_if(R1=40),
    "two drifts": rm.what_if(R1=60, R2=180),
    "a field": rm.what_if(C1={"esr_ohms": 0.5}),
    "an open dropper": rm.what_if(R1=rm.OPEN),
    "an open load": rm.what_if(L1=rm.OPEN),
    "an open capacitor": rm.what_if(C1=rm.OPEN),
    "a shorted dropper": rm.what_if(R2=rm.SHORT),
    "a shorted zener": rm.what_if(D1=rm.SHORT),
    "a shorted capacitor": rm.what_if(C1=rm.SHORT),
    "an open zener": rm.what_if(D1=rm.OPEN),
    "a board unplugged": rm.what_if(unplugged=["Amplifier"]),
    "an accessory out": rm.what_if(accessories_out=["J1"]),
    "mains low": rm.what_if(mains_volts=200),
    "mains high": rm.what_if(mains_volts=253),
    "loads off": rm.what_if(loads_off=True),
    "all of it": rm.what_if(
        R2=250, L1=rm.OPEN, unplugged=["Amplifier"], mains_volts=245, accessories_out=["J1"]
    ),
}
MAPS = {"still": still_map, "moving": moving_map}
NUMBERS = {
    "nothing", "a drift up", "a drift down", "two drifts", "a field", "mains low", "mains high",
}  # fmt: skip
"""Changes of numbers alone."""
LINK_OHMS = 1.01e-6
"""Of a link without resistance that is out in another what-if."""
ALIKE, NEAR, MEAN, RIPPLE, RMS = 1e-9, 1e-6, 1e-4, 3e-3, 1e-4


def singly(m: rm.RailMap, changes: Sequence[rm.WhatIf]) -> list[rm.Solution]:
    found = [rm.solve(m, change=change) for change in changes]
    assert all(s.has_figures for s in found)
    return found


def same_node(many: Many, alone: Sequence[rm.Solution], node: str, part: float) -> None:
    """Compare means and ripple of a node in every what-if; means to a part of its highest."""
    ripples = [s.ripple(node) for s in alone]
    swing, low, high = (
        np.array([getattr(r, name) for r in ripples])
        for name in ("volts_pp", "low_volts", "high_volts")
    )
    mean = np.array([s.volts(node) for s in alone])
    size = np.fmax(np.abs(low), np.abs(high))
    # Of a map that stands still a nanovolt counts as nothing, of one that moves a microvolt.
    near = part * size + (1e-6 if part == MEAN else 1e-9)
    close_to(many.volts(node), mean, near, node)
    found = many.ripple(node)
    close_to(found.volts_pp, swing, RIPPLE * swing + near / 10, node)
    close_to(found.low_volts, low, np.fmax(near, RIPPLE * swing), node)
    close_to(found.high_volts, high, np.fmax(near, RIPPLE * swing), node)


def close_to(found: np.ndarray, alone: np.ndarray, near: Any, what: object) -> None:
    """See that arrays agree, and have nothing in the same places."""
    assert np.array_equal(np.isnan(found), np.isnan(alone)), (what, found, alone)
    bad = ~np.isnan(alone) & (np.abs(found - alone) > near)
    assert not bad.any(), (what, np.flatnonzero(bad), found[bad], alone[bad])


def same_part(many: Many, alone: Sequence[rm.Solution], ref: str, part: float) -> None:
    """Compare everything about a part in every what-if."""
    found, parts = many.part(ref), [s.part(ref) for s in alone]
    # In a map that moves without load, a batch leaves some currents of tenths of a milliampere
    # that come to nothing.
    part, least = (RMS, 2e-4) if part == MEAN else (part, 1e-9)
    rms = np.array([p.amps_rms for p in parts])
    volts = np.array([0.0 if np.isnan(p.volts) else p.volts_peak for p in parts])
    stress = np.array([p.stress for p in parts])
    limits = {
        "volts": 2 * part * volts + LINK_OHMS * rms, "amps": part * rms, "amps_rms": part * rms,
        "watts": (2 * part * rms + least) * volts + LINK_OHMS * rms**2,
        "stress": np.nan_to_num(2 * part * stress) + 1e-6,
    }  # fmt: skip
    for name, near in limits.items():
        other = np.array([getattr(p, name) for p in parts])
        close_to(getattr(found, name), other, near + least, (ref, name))


def nearness(kind: str, names: Sequence[str]) -> float:
    """Return to what part a map under some changes is the same either way."""
    if kind == "moving":
        return MEAN
    return ALIKE if set(names) <= NUMBERS else NEAR


@pytest.mark.parametrize("kind", MAPS)
@pytest.mark.parametrize("name", CHANGES)
def test_each_what_if_beside_none(kind: str, name: str) -> None:
    m = MAPS[kind]()
    changes = [rm.what_if(), CHANGES[name]]
    many, alone = solve_many(m, changes), singly(m, changes)
    assert many.reasons == ["", ""]
    for node in m.nodes:
        same_node(many, alone, node, nearness(kind, [name]))


@pytest.mark.parametrize("kind", MAPS)
@pytest.mark.parametrize("turned_round", [False, True])
def test_all_what_ifs_together(kind: str, turned_round: bool) -> None:
    m = MAPS[kind]()
    changes = list(CHANGES.values())
    if turned_round:
        changes.reverse()
    many, alone = solve_many(m, changes), singly(m, changes)
    assert many.solved.all()
    assert len(many) == len(changes)
    for node in m.nodes:
        same_node(many, alone, node, nearness(kind, list(CHANGES)))


@pytest.fixture(scope="module")
def answers() -> Any:
    """All what-ifs of a map solved both ways, once."""
    known: dict[str, tuple[rm.RailMap, Many, list[rm.Solution]]] = {}

    def of(kind: str) -> tuple[rm.RailMap, Many, list[rm.Solution]]:
        if kind not in known:
            m = MAPS[kind]()
            changes = list(CHANGES.values())
            known[kind] = m, solve_many(m, changes), singly(m, changes)
        return known[kind]

    return of


PARTS = [(kind, ref) for kind, make in MAPS.items() for ref in make().parts]


@pytest.mark.parametrize(("kind", "ref"), PARTS)
def test_parts_of_all_what_ifs(kind: str, ref: str, answers: Any) -> None:
    _, many, alone = answers(kind)
    same_part(many, alone, ref, nearness(kind, list(CHANGES)))


@pytest.mark.parametrize("name", ["first_divider", "small_receiver"])
def test_examples(name: str) -> None:
    m = rm.load(data_dir("example_boards") / f"{name}.railmap")
    changes = [rm.what_if({ref: rm.OPEN}) for ref in m.parts]
    changes += [
        rm.what_if({ref: part.ohms * factor})
        for ref, part in m.parts.items() if isinstance(part, rm.Resistor)
        for factor in (0.8, 1.5)
    ]  # fmt: skip
    many, alone = solve_many(m, changes), singly(m, changes)
    moves = any(isinstance(part, rm.Winding) for part in m.parts.values())
    for node in m.nodes:
        same_node(many, alone, node, MEAN if moves else NEAR)


@pytest.mark.parametrize("kind", MAPS)
@pytest.mark.parametrize("fault", [None, rm.OPEN], ids=["drifts", "opens"])
def test_a_batch_needs_no_second_look(kind: str, fault: Any, monkeypatch: Any) -> None:
    """Drifts share one structure and settle together, none by itself; so do opens.

    A capacitor that nothing feeds any more may take more turns to run down than a batch has.
    """
    alone: list[int] = []

    def keep(self: Many, row: int, solution: rm.Solution) -> None:
        alone.append(row)

    monkeypatch.setattr(Many, "keep_single", keep)
    changes = [rm.what_if(R1=ohms) for ohms in (40, 50, 60, 100)]
    if fault is not None:
        changes += [rm.what_if({ref: fault}) for ref in ("R1", "L1", "L2", "D1")]
    solve_many(MAPS[kind](), changes)
    assert len(alone) <= (kind == "moving" and fault is rm.OPEN)


def test_volts_between_two_nodes_and_by_rail() -> None:
    m = moving_map()
    m.add_rail("A", "+29")
    changes = [rm.what_if(), rm.what_if(R1=60)]
    many, alone = solve_many(m, changes), singly(m, changes)
    between = [s.volts("P", "N") for s in alone]
    assert many.volts("P", "N") == pytest.approx(np.array(between), rel=MEAN)
    assert many.volts("+29") == pytest.approx(many.volts("A"), rel=1e-12)


def test_unknown_names_are_refused() -> None:
    many = solve_many(still_map(), [rm.what_if()])
    with pytest.raises(rm.MapError, match="R99"):
        many.part("R99")
    with pytest.raises(rm.MapError):
        many.volts("nowhere")


@pytest.mark.parametrize("kind", MAPS)
def test_what_cannot_be_has_its_reason_and_the_rest_stands(kind: str) -> None:
    m = MAPS[kind]()
    changes = [
        rm.what_if(R1=60), rm.what_if(R99=1), rm.what_if(R1=-5), rm.what_if(unplugged=["Attic"]),
        rm.what_if(accessories_out=["R1"]), rm.what_if(mains_volts=-1), rm.what_if(),
    ]  # fmt: skip
    many = solve_many(m, changes)
    assert many.solved.tolist() == [True, False, False, False, False, False, True]
    words = ("R99", "ohms", "Attic", "R1", "mains")
    for word, reason in zip(words, many.reasons[1:6], strict=True):
        assert word in reason
        assert "\n" not in reason
    volts = many.volts("A")
    assert np.isnan(volts[1:6]).all()
    good = solve_many(m, [changes[0], changes[6]])
    assert volts[[0, 6]] == pytest.approx(good.volts("A"), rel=1e-9)
    assert np.isnan(many.part("R1").watts).tolist() == [False, *[True] * 5, False]
    assert many.solution(1) is None


def test_a_contradiction_has_its_reason_and_the_rest_stands() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "A", "0V", volts=12))
    m.add(rm.Resistor("R1", "A", "B", ohms=100))
    m.add(rm.Resistor("R2", "B", "0V", ohms=200))
    shorted = rm.what_if(R1=rm.SHORT, R2=rm.SHORT)
    many = solve_many(m, [rm.what_if(), shorted, rm.what_if(R2=100)])
    assert many.solved.tolist() == [True, False, True]
    assert "V1" in many.reasons[1]
    assert many.volts("B")[[0, 2]] == pytest.approx([8, 6], rel=1e-9)
    assert np.isnan(many.volts("B")[1])


@pytest.mark.parametrize("kind", MAPS)
def test_chunks_change_nothing_but_how_much_is_done_at_once(kind: str, monkeypatch: Any) -> None:
    m, changes = MAPS[kind](), list(CHANGES.values())
    whole = solve_many(m, changes)
    told: list[tuple[int, int]] = []
    monkeypatch.setattr(many_module, "MOST_BYTES", 1)
    small = solve_many(m, changes, progress=lambda done, of: told.append((done, of)))
    assert [done for done, _ in told] == list(range(1, len(changes) + 1))
    assert {of for _, of in told} == {len(changes)}
    moves = kind == "moving"
    for node in m.nodes:
        near = MEAN if moves else NEAR
        one, other = whole.volts(node), small.volts(node)
        assert one == pytest.approx(other, rel=near, abs=1e-3 if moves else 1e-9, nan_ok=True), node
    for ref in m.parts:
        one, other = whole.part(ref).amps_rms, small.part(ref).amps_rms
        assert one == pytest.approx(other, rel=RMS if moves else NEAR, abs=2e-4), ref


@pytest.mark.parametrize("kind", MAPS)
def test_cancelled(kind: str, monkeypatch: Any) -> None:
    m = MAPS[kind]()
    monkeypatch.setattr(many_module, "MOST_BYTES", 1)
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(True)
        return len(asked) > 3

    many = solve_many(m, [rm.what_if(R1=50 + k) for k in range(10)], cancelled=stop)
    assert many.cancelled
    assert many.solved.tolist() == [True] * 3 + [False] * 7
    assert all("stopped" in reason for reason in many.reasons[3:])
    assert np.isnan(many.volts("A")[3:]).all()
    assert not np.isnan(many.volts("A")[:3]).any()
    assert many.solution(5) is None


def test_progress_counts_what_cannot_be() -> None:
    told: list[tuple[int, int]] = []
    changes = [rm.what_if(), rm.what_if(R99=1), rm.what_if(R1=60)]
    many = solve_many(still_map(), changes, progress=lambda done, of: told.append((done, of)))
    assert told[-1] == (3, 3)
    assert not many.cancelled


@pytest.mark.parametrize("kind", MAPS)
def test_nothing_to_do(kind: str) -> None:
    many = solve_many(MAPS[kind](), [])
    assert len(many) == 0
    assert many.volts("A").shape == (0,)
    assert many.part("R1").watts.shape == (0,)


def test_setup_and_mains_hold_where_a_what_if_says_nothing() -> None:
    m = moving_map()
    m.add_setup("Bench", mains_volts=210.0, unplugged=["Amplifier"])
    setup = m.setups["Bench"]
    changes = [rm.what_if(), rm.what_if(mains_volts=240)]
    by_setup = solve_many(m, changes, setup=setup)
    for row, mains in enumerate((210, 240)):
        one = rm.solve(m, setup=setup, change=rm.what_if(mains_volts=mains), mains_volts=mains)
        assert by_setup.volts("P")[row] == pytest.approx(one.volts("P"), rel=MEAN)
    by_mains = solve_many(m, changes, mains_volts=220)
    for row, mains in enumerate((220, 240)):
        one = rm.solve(m, mains_volts=mains)
        assert by_mains.volts("P")[row] == pytest.approx(one.volts("P"), rel=MEAN)


@pytest.mark.parametrize("kind", MAPS)
def test_one_what_if_as_a_solution(kind: str) -> None:
    m, node = MAPS[kind](), "B" if kind == "still" else "M"
    changes = list(CHANGES.values())[:8]
    many = solve_many(m, changes)
    for row, change in enumerate(changes):
        s, alone = many.solution(row), rm.solve(m, change=change)
        assert s is not None
        assert s.status == alone.status
        assert s.volts(node) == pytest.approx(alone.volts(node), rel=MEAN)
        # A batch catches the moments of change on a coarser grid.
        assert s.power_in == pytest.approx(s.power_out, rel=1e-5)


@pytest.mark.parametrize("kind", MAPS)
def test_a_leak_that_comes_or_goes(kind: str) -> None:
    """A capacitor has a leak in some what-ifs and none in others."""
    m = MAPS[kind]()
    if kind == "still":
        m.add(rm.Capacitor("C2", "B", "0V", farads=1e-5))
    changes = [rm.what_if(), rm.what_if(C2={"leak_ohms": 5e3}), rm.what_if(C1={"leak_ohms": 5e3})]
    many, alone = solve_many(m, changes), singly(m, changes)
    for node in m.nodes:
        same_node(many, alone, node, nearness(kind, ["a leak"]))


def bench_map() -> rm.RailMap:
    """Own map: every kind of part but a winding, each so that without it another rail lives on."""
    m = rm.RailMap()
    m.add_board("Rear", 100, 100)
    for part in (
        rm.Source("V1", "RAW", "0V", volts=30, ohms=0.5), rm.Source("V2", "REF", "0V", volts=6),
        rm.Link("K1", "RAW", "A"), rm.Link("K2", "RAW", "A", board="Rear"),
        rm.Switch("S1", "A", "B"), rm.Fuse("F1", "B", "C"), rm.Choke("L9", "C", "D", henries=1),
        rm.Resistor("R1", "D", "E", ohms=100, rated_watts=5),
        rm.Diode("D1", "E", "F"), rm.Resistor("R2", "F", "0V", ohms=220, rated_watts=3),
        rm.Zener("D2", "G", "0V", zener_volts=9, ohms=4), rm.Resistor("R3", "D", "G", ohms=330),
        rm.Bridge("B1", "A", "0V", "P", "N"), rm.Load("L1", "P", "N", ohms=470),
        rm.Regulator("U1", "D", "H", "0V", volts=12, quiescent_amps=0.003),
        rm.Load("L2", "H", "0V", amps=0.08, max_volts=15),
        rm.Converter("U2", "D", "I", "0V", volts=5), rm.Load("L3", "I", "0V", watts=0.5),
        rm.PassTransistor("Q1", "D", "G", "J", gain=60), rm.Load("L4", "J", "0V", ohms=100),
        rm.Load("L5", "D", "0V", amps=0.1, at_volts=30, law="lamp"),
        rm.Capacitor("C1", "H", "0V", farads=1e-4, rated_volts=16),
        rm.Resistor("R4", "REF", "0V", ohms=60, rated_watts=1),
    ):  # fmt: skip
        m.add(part)
    return m


BENCH = bench_map()


@pytest.mark.parametrize("fault", [rm.OPEN, rm.SHORT])
def test_every_kind_of_part_with_a_fault(fault: Any) -> None:
    """Beside the sound map and each other, as in a list of what can fail."""
    m = bench_map()
    changes = [rm.what_if(), *(rm.what_if({ref: fault}) for ref in m.parts)]
    many = solve_many(m, changes)
    for row, change in enumerate(changes):
        alone = rm.solve(m, change=change)
        assert bool(many.solved[row]) == alone.has_figures, change
        assert many.reasons[row] == ("" if alone.has_figures else alone.message)
    rows = np.flatnonzero(many.solved)
    alone = [rm.solve(m, change=changes[row]) for row in rows]
    for node in m.nodes:
        found = many.volts(node)[rows]
        expected = np.array([s.volts(node) for s in alone])
        close_to(found, expected, 1e-6 * np.fmax(np.abs(expected), 1), node)
    for ref in m.parts:
        found = many.part(ref)
        for name in ("volts", "amps", "watts", "stress"):
            expected = np.array([getattr(s.part(ref), name) for s in alone])
            close_to(getattr(found, name)[rows], expected, 1e-5 + 1e-5 * np.abs(expected), ref)


def fields_to_try() -> list[tuple[str, str, float]]:
    """Every number of every part, with a value that is not the one it has."""
    found: list[tuple[str, str, float]] = []
    for ref, part in BENCH.parts.items():
        for field in fields_of(type(part)).values():
            kinds = {type(option) for option in options_of(field.type)}
            if inspect.FloatType in kinds:
                now = getattr(part, field.name)
                found += [(ref, field.name, v) for v in (0.0, 0.7, 1.3 * (now or 10.0))]
    return found


def test_every_field_of_every_part() -> None:
    """Whatever rows and ties it makes or unmakes; what cannot be says so."""
    m, tried = bench_map(), fields_to_try()
    changes = [rm.what_if(), *(rm.what_if({ref: {name: v}}) for ref, name, v in tried)]
    many = solve_many(m, changes)
    assert many.solved.sum() > 100
    for row, change in enumerate(changes):
        alone = solved_or_not(m, change)
        if isinstance(alone, str):
            assert many.reasons[row] == alone
            continue
        assert many.reasons[row] == ""
        for node in m.nodes:
            near = pytest.approx(alone.volts(node), rel=5e-6, abs=5e-6, nan_ok=True)
            assert many.volts(node)[row] == near, (change, node)


def solved_or_not(m: rm.RailMap, change: rm.WhatIf) -> rm.Solution | str:
    """Return the solution of a what-if, or why it has none."""
    try:
        alone = rm.solve(m, change=change)
    except rm.MapError as error:
        return str(error)
    return alone if alone.has_figures else alone.message


def test_links_side_by_side_share_their_current_though_one_is_out_in_another_what_if() -> None:
    m = bench_map()
    many = solve_many(m, [rm.what_if(), rm.what_if(unplugged=["Rear"]), rm.what_if(R1=120)])
    whole = rm.solve(m).part("K1").amps
    assert many.part("K1").amps[0] == pytest.approx(whole, rel=1e-6)
    assert many.part("K2").amps[0] == pytest.approx(whole, rel=1e-6)
    assert many.part("K1").amps[1] == pytest.approx(2 * whole, rel=1e-3)
    assert many.part("K2").amps[1] == 0


def test_an_open_diode_lets_nothing_through_in_a_batch_either() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "A", "0V", volts=100))
    m.add(rm.Diode("D1", "A", "B"))
    m.add(rm.Resistor("R1", "B", "0V", ohms=1e6))
    m.add(rm.Zener("D2", "A", "0V", zener_volts=200))
    many = solve_many(m, [rm.what_if(), rm.what_if(D1=rm.OPEN), rm.what_if(D2=rm.OPEN)])
    assert many.volts("B")[0] == pytest.approx(99.25, rel=1e-6)
    assert abs(many.volts("B")[1]) < 1e-12
    assert many.part("D1").amps[1] == 0
    assert many.part("D2").amps == pytest.approx([1e-7, 1e-7, 0], rel=1e-3, abs=1e-20)


def test_a_node_that_nothing_conducts_to_is_nan_as_in_a_solution() -> None:
    m = moving_map()
    gone = rm.what_if(unplugged=["Amplifier"], accessories_out=["J1"])
    for changes in ([gone, rm.what_if()], [gone, gone]):
        many, alone = solve_many(m, changes), singly(m, changes)
        for ref in ("R3", "D1", "L3", "J1", "C1"):
            found = many.part(ref)
            for name in ("volts", "amps", "watts", "stress"):
                expected = [getattr(s.part(ref), name) for s in alone]
                own = getattr(found, name)
                near = pytest.approx(np.array(expected), rel=1e-2, abs=2e-4, nan_ok=True)
                assert own == near, (ref, name)
        assert np.isnan(many.part("R3").volts[0])
        assert many.part("R3").watts[0] == 0


def test_a_map_that_contradicts_itself_is_refused_but_where_the_loop_is_open() -> None:
    m = rm.RailMap()
    for part in (
        rm.Source("V1", "A", "0V", volts=12), rm.Source("V2", "B", "0V", volts=11),
        rm.Link("K1", "A", "B"), rm.Resistor("R1", "A", "0V", ohms=10, rated_watts=20),
    ):  # fmt: skip
        m.add(part)
    changes = [
        rm.what_if(), rm.what_if(R1=20), rm.what_if(K1=rm.OPEN), rm.what_if(V2={"ohms": 1.0}),
        rm.what_if(R1=rm.OPEN), rm.what_if(K1={"ohms": 0.5}), rm.what_if(V1=rm.OPEN, R1=40),
    ]  # fmt: skip
    many = solve_many(m, changes)
    assert many.solved.tolist() == [False, False, True, True, False, True, True]
    for row, change in enumerate(changes):
        alone = rm.solve(m, change=change)
        assert many.reasons[row] == ("" if alone.has_figures else alone.message)
        assert many.volts("A")[row] == pytest.approx(alone.volts("A"), rel=1e-6, nan_ok=True)
        amps = pytest.approx(alone.part("V1").amps, rel=1e-5, nan_ok=True)
        assert many.part("V1").amps[row] == amps
        one = many.solution(row)
        assert one is not None
        assert one.status == alone.status
    assert "V2" in many.reasons[0]


def test_contradictions_of_ideal_windings() -> None:
    m = moving_map()
    m.add(rm.Winding("T2", "H", "0V", volts_rms=6))
    m.add(rm.Winding("T3", "H", "0V", volts_rms=6))
    m.add(rm.Resistor("R9", "H", "0V", ohms=60))
    changes = [rm.what_if(), rm.what_if(T3=rm.OPEN), rm.what_if(R1=60), rm.what_if(T2={"ohms": 1})]
    many = solve_many(m, changes)
    assert many.solved.tolist() == [False, True, False, True]
    assert many.reasons[0] == rm.solve(m).message
    assert "T2" in many.reasons[0]
    for row in (1, 3):
        alone = rm.solve(m, change=changes[row])
        assert many.volts("P")[row] == pytest.approx(alone.volts("P"), rel=MEAN)
        amps = pytest.approx(alone.part("R9").amps_rms, rel=1e-3)
        assert many.part("R9").amps_rms[row] == amps


def test_opens_begin_from_the_map_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """The periodic state of the lead has to fit those that follow it."""
    fitted: list[bool] = []
    turning: Any = import_module("railmap.solve.turning")
    whole = turning._fits

    def fits(*given: Any) -> bool:
        fitted.append(whole(*given))
        return fitted[-1]

    monkeypatch.setattr(turning, "_fits", fits)
    solve_many(moving_map(), [rm.what_if({ref: rm.OPEN}) for ref in ("R1", "C2", "D1", "J1")])
    assert fitted == [True]


def test_the_same_short_in_all_is_solved_together(monkeypatch: pytest.MonkeyPatch) -> None:
    alone: list[int] = []
    keep = Many.keep_single

    def keep_single(self: Many, row: int, solution: rm.Solution) -> None:
        alone.append(row)
        keep(self, row, solution)

    monkeypatch.setattr(Many, "keep_single", keep_single)
    m = moving_map()
    changes = [rm.what_if(C3=rm.SHORT, R1=ohms) for ohms in (40, 47, 60)]
    many = solve_many(m, changes)
    assert alone == []
    for row, change in enumerate(changes):
        expected = rm.solve(m, change=change).part("R1").amps
        assert many.part("R1").amps[row] == pytest.approx(expected, rel=MEAN)


def test_nothing_that_holds_a_node_is_left_in_a_map_of_resistors() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "A", "0V", volts=10, ohms=1))
    m.add(rm.Resistor("R1", "A", "B", ohms=9))
    m.add(rm.Resistor("R2", "B", "C", ohms=9))
    many = solve_many(m, [rm.what_if(), rm.what_if(R2=rm.OPEN), rm.what_if(R1=rm.OPEN)])
    assert many.volts("B") == pytest.approx([10, 10, np.nan], nan_ok=True)
    assert many.volts("C") == pytest.approx([10, np.nan, np.nan], nan_ok=True)
    assert many.volts("C", "B") == pytest.approx([0, np.nan, 0], nan_ok=True)


@given(seed=st.integers(0, 10**6), data=st.data())
@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_what_ifs_on_any_supply(rail_map: Any, seed: int, data: st.DataObject) -> None:
    """Random trees of rails with every kind of part; some values, opens and shorts at once."""
    m = rail_map(seed, data.draw(st.sampled_from(["ROSC", "RODZBJ", "ROSMPUKQVIHWF"])))
    change = st.sampled_from([rm.OPEN, rm.OPEN, rm.SHORT]) | st.floats(0.3, 3.0)
    changes = [rm.what_if()]
    for tried in data.draw(st.lists(st.dictionaries(st.sampled_from(list(m.parts)), change))):
        changes.append(rm.what_if({ref: _value(m, ref, new) for ref, new in tried.items()}))
    many = solve_many(m, changes)
    for row, one in enumerate(changes):
        alone = rm.solve(m, change=one)
        assert many.reasons[row] == ("" if alone.has_figures else alone.message)
        top = max((abs(alone.volts(n)) for n in m.nodes if alone.volts(n) == alone.volts(n)),
                  default=0.0)  # fmt: skip
        for node in m.nodes:
            near = pytest.approx(alone.volts(node), rel=1e-6, abs=1e-6 * top + 1e-9, nan_ok=True)
            assert many.volts(node)[row] == near, (node, one)


def _value(m: rm.RailMap, ref: str, new: Any) -> Any:
    """Return a fault as it is, a factor as a new value, and an open part where it has no value."""
    if not isinstance(new, float):
        return new
    part = m.parts[ref]
    now = part.now() if part.main_field else None
    return rm.OPEN if now is None else new * now


def test_windings_open_in_some_what_ifs_only() -> None:
    # With both half windings open nothing turns any more: two kinds of solution in one answer.
    m = moving_map()
    changes = [
        rm.what_if(), rm.what_if(T1A=rm.OPEN), rm.what_if(T1A=rm.OPEN, T1B=rm.OPEN),
        rm.what_if(T1A=rm.OPEN, T1B=rm.OPEN, R1=60), rm.what_if(R1=60),
    ]  # fmt: skip
    many, alone = solve_many(m, changes), singly(m, changes)
    for node in ("P", "N", "A", "M"):
        same_node(many, alone, node, MEAN)
    for ref in ("R1", "C1"):
        same_part(many, alone, ref, MEAN)
    assert many.volts("P")[2:4] == pytest.approx([0, 0], abs=1e-6)


def test_order_is_kept() -> None:
    m, ohms = moving_map(), [90.0, 30.0, 150.0, 47.0, 60.0]
    many = solve_many(m, [rm.what_if(R1=value) for value in ohms])
    order = np.argsort(many.volts("A"))
    assert [ohms[i] for i in order] == sorted(ohms, reverse=True)


def test_a_map_without_parts_is_solved_under_any_number_of_what_ifs() -> None:
    assert solve_many(rm.RailMap(), [rm.what_if(), rm.what_if()]).solved.all()
