"""The surge at switch-on on the card of a rectifier: worked out beside the window, and kept."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtTest import QTest

import railmap as rm
from railmap.errors import MapError
from railmap.model.railmap import Change
from railmap.solve.surge import Surge, surges
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.card import surging as module
from railmap.ui.card.surging import COMPUTING, FAILED, OUT, REST_MS, UNRATED
from railmap.ui.window import Window


@pytest.fixture
def supply(window: Window, settle: Callable[[], None]) -> rm.RailMap:
    """Two rectifiers, one with a rating, behind one winding."""
    m = rm.RailMap("Supply", mains_volts=230, mains_hertz=50)
    m.add_board("Main", 160, 100)
    m.add_board("Side", 160, 100)
    for part in (
        rm.Winding("T1", "AC", "0V", volts_rms=15, ohms=1.0, board="Main"),
        rm.Diode("D1", "AC", "P", rated_amps=1, surge_i2t=0.3, board="Main"),
        rm.Capacitor("C1", "P", "0V", farads=1e-3, board="Main"),
        rm.Resistor("R1", "P", "0V", ohms=220, rated_watts=2, board="Main"),
        rm.Diode("D2", "AC", "Q", board="Side"),
        rm.Capacitor("C2", "Q", "0V", farads=1e-4, board="Side"),
        rm.Resistor("R2", "Q", "0V", ohms=1000, board="Side"),
    ):
        m.add(part)
    m.add_setup("side out", unplugged=("Side",))
    window.bridge.open_map(m, None)
    settle()
    return m


@pytest.fixture
def count(monkeypatch: pytest.MonkeyPatch) -> list[rm.RailMap]:
    """The maps for which surges were worked out."""
    seen: list[rm.RailMap] = []

    def counted(m: rm.RailMap, **more: Any) -> dict[str, Surge]:
        seen.append(m)
        return surges(m, **more)

    monkeypatch.setattr(module, "surges", counted)
    return seen


@pytest.fixture
def wait(window: Window, qtbot: Any, settle: Callable[[], None]) -> Callable[[], None]:
    """Wait until the surges of what is shown are known."""

    def until() -> None:
        settle()
        qtbot.waitUntil(lambda: window.card.surging.known, timeout=20_000)
        settle()

    return until


def said(page: Any) -> tuple[str, str, str]:
    """The figures, the bar and the words below, as a screen reader hears them."""
    bar = page.surge.bar.accessibleName() if page.surge.bar.isVisible() else ""
    return page.surge.figures.accessibleName(), bar, page.surge.note.text()


def test_the_surge_against_its_rating(
    clerk: Any, supply: rm.RailMap, wait: Callable[[], None]
) -> None:
    page = clerk.pick("part", "D1")
    figures, bar, words = said(page)
    assert figures == "first peak …; I²t …"
    assert bar == "Surge  –, … of 0.3 A²s"
    assert words == COMPUTING
    wait()
    surge = surges(supply)["D1"]
    figures, bar, words = said(page)
    assert figures == f"first peak {surge.amps_peak:.3g} A; I²t {surge.i2t:.3g} A²s"
    assert bar == f"Surge  {surge.stress * 100:.0f} %, {surge.i2t:.3g} A²s of 0.3 A²s"
    assert "worst moment" in words
    assert page.surge.accessibleName() == "Surge at switch-on"


def test_without_a_rating_there_is_no_bar(
    clerk: Any, supply: rm.RailMap, wait: Callable[[], None]
) -> None:
    page = clerk.pick("part", "D2")
    wait()
    figures, bar, words = said(page)
    assert figures.startswith("first peak ")
    assert bar == ""
    assert words.startswith(UNRATED)


def test_only_rectifiers_behind_a_winding_have_one(clerk: Any, supply: rm.RailMap) -> None:
    for ref in ("T1", "C1", "R1"):
        assert clerk.pick("part", ref).surge is None
    window = clerk.window
    window.bridge.do("No winding", [Change("parts", "T1", rm.Source("T1", "AC", "0V", volts=12))])
    page = clerk.pick("part", "D1")
    assert not page.surge.isVisible()


def test_it_is_worked_out_once_for_all_rectifiers(
    clerk: Any, supply: rm.RailMap, wait: Callable[[], None], count: list[rm.RailMap]
) -> None:
    clerk.pick("part", "D1")
    wait()
    page = clerk.pick("part", "D2")
    assert "…" not in said(page)[0]
    clerk.pick("part", "R1")
    assert "…" not in said(clerk.pick("part", "D1"))[0]
    assert len(count) == 1


def test_it_goes_when_the_map_changes_and_comes_again(
    clerk: Any, supply: rm.RailMap, window: Window, wait: Callable[[], None]
) -> None:
    page = clerk.pick("part", "D1")
    wait()
    before = said(page)
    larger = supply.parts["C1"].changed(farads=4.7e-3)
    assert window.bridge.change_part("Larger", larger)
    clerk.settle()
    assert said(page)[2] == COMPUTING
    wait()
    assert clerk.page is page
    m = window.bridge.map
    assert said(page)[0] == (
        f"first peak {surges(m)['D1'].amps_peak:.3g} A; I²t {surges(m)['D1'].i2t:.3g} A²s"
    )
    assert said(page) != before
    window.bridge.undo()
    wait()
    assert said(page) == before


@pytest.mark.parametrize("what", ["drift", "mains", "setup"])
def test_it_follows_what_is_tried(
    clerk: Any, supply: rm.RailMap, window: Window, wait: Callable[[], None], what: str
) -> None:
    bridge = window.bridge
    page = clerk.pick("part", "D2" if what == "setup" else "D1")
    wait()
    if what == "drift":
        bridge.set_drift("C1", 2.2e-3)
        wanted = surges(supply, change=rm.what_if(C1=2.2e-3))["D1"].i2t
    elif what == "mains":
        bridge.set_mains(253)
        wanted = surges(supply, mains_volts=253)["D1"].i2t
    else:
        bridge.set_setup("side out")
        wanted = None
    clerk.settle()
    assert said(page)[2] == COMPUTING
    wait()
    if wanted is None:
        assert said(page) == ("first peak …; I²t …", "", OUT)
    else:
        assert f"I²t {wanted:.3g} A²s" in said(page)[0]


def test_while_a_value_moves_nothing_is_worked_out(
    clerk: Any, supply: rm.RailMap, window: Window, wait: Callable[[], None],
    count: list[rm.RailMap],
) -> None:  # fmt: skip
    clerk.pick("part", "D1")
    wait()
    for step in range(1, 9):
        window.bridge.set_drift("C1", 1e-3 * (1 + step / 10))
        clerk.settle()
        QTest.qWait(REST_MS // 8)
    assert len(count) == 1
    wait()
    assert len(count) == 2


def test_a_refusal_is_one_sentence(
    clerk: Any, supply: rm.RailMap, wait: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any, **more: Any) -> None:
        raise MapError("no")

    monkeypatch.setattr(module, "surges", refuse)
    page = clerk.pick("part", "D1")
    wait()
    assert said(page)[2] == FAILED


def test_a_rectifier_that_is_renamed_keeps_its_surge_and_its_curve(
    clerk: Any, supply: rm.RailMap, wait: Callable[[], None]
) -> None:
    page = clerk.pick("part", "D1")
    clerk.fill("ref", "D7")
    assert clerk.page.about == Picked("part", "D7")
    wait()
    assert "…" not in said(page)[0]
    assert page.sweep._order.ref == "D7"


def test_with_a_comma_and_in_the_dark(
    clerk: Any, supply: rm.RailMap, window: Window, wait: Callable[[], None]
) -> None:
    clerk.pick("part", "D1")
    wait()
    figures = said(clerk.page)[0]
    window.set_theme(themes.dark(rm.figures.Figures(",")))
    clerk.settle()
    assert said(clerk.page)[0] == figures.replace(".", ",")
    assert "0,3 A²s" in said(clerk.page)[1]


def test_the_window_closes_while_it_is_worked_out(
    clerk: Any, supply: rm.RailMap, window: Window
) -> None:
    clerk.pick("part", "D1")
    QTest.qWait(REST_MS + 20)
    window.bridge.history.mark_clean()
    window.close()
    assert not window.card.surging.known
