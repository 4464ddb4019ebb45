"""The bridge between map and window: what goes in, what comes out, and in which order."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

import railmap as rm
from railmap.errors import NotYetError
from railmap.model.railmap import Change
from railmap.ui import bridge as module
from railmap.ui.bridge import Bridge, Picked, sentence


class Ear:
    """Notes every signal of a bridge in its order."""

    def __init__(self, bridge: Bridge) -> None:
        self.heard: list[tuple[str, Any]] = []
        bridge.map_changed.connect(lambda changes: self.heard.append(("map", changes)))
        bridge.solved.connect(lambda solution: self.heard.append(("solved", solution)))
        bridge.unsolved.connect(lambda: self.heard.append(("unsolved", None)))
        bridge.picked.connect(lambda what: self.heard.append(("picked", what)))
        bridge.state_changed.connect(lambda: self.heard.append(("state", None)))
        bridge.trouble.connect(lambda text: self.heard.append(("trouble", text)))

    @property
    def names(self) -> list[str]:
        return [name for name, _ in self.heard]

    def of(self, name: str) -> list[Any]:
        return [what for heard, what in self.heard if heard == name]


@pytest.fixture
def ear(bridge: Bridge) -> Ear:
    return Ear(bridge)


def volts(bridge: Bridge, node: str = "A") -> float:
    assert bridge.solution is not None
    return bridge.solution.volts(node)


def calm_volts(bridge: Bridge, node: str = "A") -> float:
    assert bridge.calm is not None
    return bridge.calm.volts(node)


def with_watts(m: rm.RailMap, ref: str, watts: float) -> list[Change]:
    return [Change("parts", ref, m.parts[ref].changed(rated_watts=watts))]


def test_a_new_bridge_shows_an_empty_map(plain_app: QApplication) -> None:
    bridge = Bridge()
    assert len(bridge.map.parts) == 0
    assert bridge.history.clean
    assert bridge.solution is None


def test_opening_a_map_shows_and_solves_it(plain_app: QApplication, divider: rm.RailMap) -> None:
    bridge = Bridge()
    ear = Ear(bridge)
    bridge.open_map(divider, Path("divider.railmap"))
    assert ear.names == ["map", "solved", "state"]
    assert ear.of("map") == [()]
    assert bridge.path == Path("divider.railmap")
    assert volts(bridge) == pytest.approx(6.0)
    assert volts(bridge, "B") == pytest.approx(4.5)
    assert bridge.mains_volts == 230


def test_opening_a_map_forgets_what_belonged_to_the_other(
    bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.pick(Picked("part", "R1"))
    bridge.set_setup("high")
    bridge.set_drift("R1", 200.0)
    settle()
    other = rm.RailMap("Other", mains_volts=115)
    bridge.open_map(other, None)
    assert bridge.map is other
    assert (bridge.mains_volts, bridge.setup_name, bridge.drift) == (115, "", {})
    assert bridge.selection == Picked()
    assert bridge.history.clean
    assert bridge.history.undo_name is None


def test_an_edit_is_told_with_its_changes(
    bridge: Bridge, ear: Ear, settle: Callable[[], None]
) -> None:
    changes = [Change("parts", "R1", bridge.map.parts["R1"].changed(ohms=200.0))]
    assert bridge.do("Change R1", changes)
    assert ear.names == ["map", "state"]
    assert ear.of("map") == [tuple(changes)]
    settle()
    assert ear.names == ["map", "state", "solved"]
    assert volts(bridge) == pytest.approx(4.0)
    assert not bridge.history.clean


def test_many_edits_are_solved_once(bridge: Bridge, ear: Ear, settle: Callable[[], None]) -> None:
    for watts in (2, 3, 4):
        bridge.do("Change R1", with_watts(bridge.map, "R1", watts))
    bridge.set_mains(253)
    bridge.set_drift("R2", 100.0)
    settle()
    assert ear.names.count("solved") == 1


def test_a_refused_edit_is_one_sentence_and_changes_nothing(bridge: Bridge, ear: Ear) -> None:
    before = bridge.map.document()
    part = rm.Resistor("R9", "A", "B", ohms=1, board="Nowhere")
    assert not bridge.do("Add R9", [Change("parts", None, part)])
    assert ear.names == ["trouble"]
    text = ear.of("trouble")[0]
    assert "'Nowhere'" in text
    assert text.endswith("have.")
    assert bridge.map.document() == before
    assert bridge.history.clean


def test_undo_and_redo(bridge: Bridge, ear: Ear, settle: Callable[[], None]) -> None:
    before = bridge.map.document()
    bridge.change_part("Change R1", bridge.map.parts["R1"].changed(ohms=200.0))
    after = bridge.map.document()
    bridge.undo()
    settle()
    assert bridge.map.document() == before
    assert bridge.history.clean
    assert volts(bridge) == pytest.approx(6.0)
    bridge.redo()
    settle()
    assert bridge.map.document() == after
    assert volts(bridge) == pytest.approx(4.0)


def test_nothing_to_undo_or_redo_is_no_trouble(bridge: Bridge, ear: Ear) -> None:
    bridge.undo()
    bridge.redo()
    assert ear.names == []


def test_saving_marks_the_map_clean(bridge: Bridge, ear: Ear, tmp_path: Path) -> None:
    bridge.do("Change R1", with_watts(bridge.map, "R1", 2))
    bridge.saved(tmp_path / "a.railmap")
    assert bridge.history.clean
    assert bridge.path == tmp_path / "a.railmap"
    assert ear.names[-1] == "state"
    bridge.undo()
    assert not bridge.history.clean


def test_a_selection_is_told_once(bridge: Bridge, ear: Ear) -> None:
    bridge.pick(Picked("part", "R1"))
    bridge.pick(Picked("part", "R1"))
    assert ear.of("picked") == [Picked("part", "R1")]


@pytest.mark.parametrize(
    ("what", "changes"),
    [
        (Picked("part", "R3"), [Change("parts", "R3", None)]),
        (Picked("rail", "B"), [Change("parts", "R3", None), Change("parts", "L1", None)]),
        (
            Picked("board", "Side"),
            [
                Change("setups", "side out", None),
                Change("parts", "R3", None),
                Change("parts", "L1", None),
                Change("boards", "Side", None),
            ],
        ),
    ],
)
def test_what_is_deleted_is_no_longer_selected(
    bridge: Bridge, what: Picked, changes: list[Change]
) -> None:
    bridge.pick(what)
    assert bridge.do("Delete", changes)
    assert bridge.selection == Picked()


def test_a_selection_outlives_other_edits(bridge: Bridge) -> None:
    bridge.pick(Picked("part", "R1"))
    bridge.do("Delete L1", [Change("parts", "L1", None)])
    assert bridge.selection == Picked("part", "R1")


def test_mains(bridge: Bridge, ear: Ear, settle: Callable[[], None]) -> None:
    bridge.set_mains(253)
    settle()
    assert volts(bridge) == pytest.approx(6.6)
    bridge.set_mains(253)
    settle()
    assert ear.names == ["solved"]
    assert bridge.history.clean


def test_a_setup(bridge: Bridge, settle: Callable[[], None]) -> None:
    bridge.set_setup("side out")
    settle()
    assert volts(bridge) == pytest.approx(8.0)
    assert bridge.mains_volts == 230
    bridge.set_setup("high")
    settle()
    assert bridge.mains_volts == 253
    assert volts(bridge) == pytest.approx(6.6)


def test_a_setup_that_is_removed_is_left(bridge: Bridge, settle: Callable[[], None]) -> None:
    bridge.set_setup("side out")
    bridge.do("Forget the setup", [Change("setups", "side out", None)])
    settle()
    assert bridge.setup_name == ""
    assert volts(bridge) == pytest.approx(6.0)


def test_drift_is_tried_and_never_written(
    bridge: Bridge, ear: Ear, settle: Callable[[], None]
) -> None:
    before = bridge.map.document()
    assert bridge.set_drift("R1", 200.0)
    settle()
    assert volts(bridge) == pytest.approx(4.0)
    assert calm_volts(bridge) == pytest.approx(6.0)
    assert bridge.map.document() == before
    assert bridge.history.clean
    bridge.set_drift("R1", None)
    settle()
    assert volts(bridge) == pytest.approx(6.0)
    assert ear.names == ["solved", "solved"]


def test_drift_of_two_parts_ends_together(bridge: Bridge, settle: Callable[[], None]) -> None:
    bridge.set_drift("R1", 200.0)
    bridge.set_drift("R2", 100.0)
    settle()
    # 12 V over 200 ohms and 100 || 200 ohms.
    assert volts(bridge) == pytest.approx(12 * (200 / 3) / (200 + 200 / 3))
    bridge.end_drift()
    settle()
    assert bridge.drift == {}
    assert volts(bridge) == pytest.approx(6.0)


def test_the_ghost_follows_mains_and_setup(bridge: Bridge, settle: Callable[[], None]) -> None:
    bridge.set_drift("R1", 200.0)
    settle()
    bridge.set_mains(253)
    settle()
    assert calm_volts(bridge) == pytest.approx(6.6)
    bridge.set_mains(230)
    settle()
    bridge.set_setup("side out")
    settle()
    assert calm_volts(bridge) == pytest.approx(8.0)
    assert volts(bridge) == pytest.approx(6.0)


def test_the_ghost_follows_edits(bridge: Bridge, settle: Callable[[], None]) -> None:
    bridge.set_drift("R1", 200.0)
    settle()
    bridge.do("Delete R3", [Change("parts", "R3", None), Change("parts", "L1", None)])
    settle()
    assert calm_volts(bridge) == pytest.approx(8.0)
    assert volts(bridge) == pytest.approx(6.0)


def test_drift_ends_with_its_part_but_not_with_a_move(
    bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_drift("R1", 200.0)
    bridge.set_drift("L1", 300.0)
    settle()
    bridge.change_part("Move R1", bridge.map.parts["R1"].changed(place=rm.Place(70, 30)))
    assert bridge.drift == {"R1": 200.0, "L1": 300.0}
    bridge.do("Delete L1", [Change("parts", "L1", None)])
    assert bridge.drift == {"R1": 200.0}


def test_drift_ends_where_it_would_mean_another_quantity(
    bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_drift("L1", 300.0)
    settle()
    bridge.change_part("Change L1", bridge.map.parts["L1"].changed(ohms=None, amps=0.02))
    settle()
    assert bridge.drift == {}
    assert volts(bridge) == pytest.approx((12 / 100 - 0.02) / (1 / 100 + 1 / 200))


def test_a_drift_that_cannot_be_is_refused(
    bridge: Bridge, ear: Ear, settle: Callable[[], None]
) -> None:
    zener = rm.Zener("D1", "A", "0V", zener_volts=7, ohms=10, test_amps=0.05)
    bridge.do("Add D1", [Change("parts", None, zener)])
    settle()
    solved = len(ear.of("solved"))
    assert not bridge.set_drift("D1", 0.4)
    settle()
    assert bridge.drift == {}
    assert ear.of("trouble") == ["D1: ohms times test_amps must be below zener_volts."]
    assert len(ear.of("solved")) == solved


def test_a_map_that_cannot_be_solved_yet_shows_no_old_figures(
    bridge: Bridge, ear: Ear, settle: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any) -> None:
        raise NotYetError("T1: this version does not solve that yet")

    with monkeypatch.context() as patch:
        patch.setattr(module, "solve_on", refuse)
        bridge.set_mains(240)
        settle()
    assert ear.names == ["trouble", "unsolved"]
    assert ear.of("trouble") == ["T1: this version does not solve that yet."]
    assert bridge.solution is None
    assert bridge.calm is None
    bridge.set_mains(230)
    settle()
    assert volts(bridge) == pytest.approx(6.0)


def test_two_sources_side_by_side_are_a_finding_not_a_trouble(
    bridge: Bridge, ear: Ear, settle: Callable[[], None]
) -> None:
    bridge.do("Add V9", [Change("parts", None, rm.Source("V9", "RAW", "0V", volts=9))])
    settle()
    assert ear.of("trouble") == []
    assert bridge.solution is not None
    assert bridge.solution.status == "contradiction"


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("ohms must be above 0, is -1", "Ohms must be above 0, is -1."),
        ("R1: ohms must be above 0", "R1: ohms must be above 0."),
        ("r1: it is there already", "r1: it is there already."),
        ("bad.railmap: it is cut off.", "bad.railmap: it is cut off."),
        ("'4x7' cannot be read", "'4x7' cannot be read."),
        (ValueError("no"), "No."),
    ],
)
def test_a_sentence_has_a_stop_and_leaves_names_alone(reason: Any, said: str) -> None:
    assert sentence(reason) == said


# A map that the mains turns


@pytest.fixture
def turned(plain_app: QApplication) -> Bridge:
    """A winding, a bridge rectifier, a reservoir and a loaded dropper."""
    m = rm.RailMap("Winding", mains_volts=230)
    m.add(rm.Winding("T1", "AC1", "AC2", volts_rms=18, ohms=1))
    m.add(rm.Bridge("D1", "AC1", "AC2", "RAW", "0V"))
    m.add(rm.Capacitor("C1", "RAW", "0V", farads=2200e-6, rated_volts=35))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=47, rated_watts=2))
    m.add(rm.Load("L1", "A", "0V", ohms=150))
    found = Bridge()
    found.open_map(m, None)
    return found


def test_a_winding_is_solved_as_a_script_solves_it(
    turned: Bridge, settle: Callable[[], None]
) -> None:
    ear = Ear(turned)
    assert volts(turned) == pytest.approx(rm.solve(turned.map).volts("A"), rel=1e-6)
    turned.set_mains(207)
    settle()
    wanted = rm.solve(turned.map, mains_volts=207)
    assert volts(turned) == pytest.approx(wanted.volts("A"), rel=1e-4)
    turned.set_drift("C1", 220e-6)
    settle()
    wanted = rm.solve(turned.map, mains_volts=207, change=rm.what_if(C1=220e-6))
    assert volts(turned, "RAW") == pytest.approx(wanted.volts("RAW"), rel=1e-4)
    assert calm_volts(turned, "RAW") > volts(turned, "RAW")
    assert ear.of("trouble") == []


def test_edits_of_a_map_with_a_winding(turned: Bridge, settle: Callable[[], None]) -> None:
    ear = Ear(turned)
    m = turned.map
    steps = (
        [Change("parts", None, rm.Capacitor("C2", "A", "0V", farads=470e-6))],
        [Change("parts", "C1", None)],
        [Change("parts", None, rm.Choke("L2", "A", "B", henries=1, ohms=20))],
        [Change("parts", "T1", None)],
    )
    for changes in steps:
        assert turned.do("Edit", changes)
        settle()
        assert volts(turned) == pytest.approx(
            rm.solve(m).volts("A"), rel=1e-3, abs=1e-3, nan_ok=True
        )
    while turned.history.undo_name is not None:
        turned.undo()
        settle()
        assert volts(turned) == pytest.approx(
            rm.solve(m).volts("A"), rel=1e-3, abs=1e-3, nan_ok=True
        )
    assert ear.of("trouble") == []
