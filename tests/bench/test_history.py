"""Undo and redo: back to exactly the same map, and forth again."""

from collections.abc import Callable, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from strategies import abouts, maps, names, parts, revised

import railmap as rm
from railmap.bench import revisions
from railmap.bench.edits import (
    free_node,
    free_ref,
    remove_board,
    remove_parts,
    rename_board,
    rename_node,
    rename_part,
)
from railmap.bench.history import History
from railmap.errors import MapError
from railmap.model.railmap import About, Change, RailMap
from railmap.store.files import dumps


def a_map() -> RailMap:
    m = RailMap(title="Bench divider")
    m.add(rm.Source("V1", "RAW", "0V", volts=24))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150))
    m.add(rm.Resistor("R2", "A", "0V", ohms=120))
    m.add_rail("A", "+12")
    return m


def titled(title: str) -> list[Change]:
    return [Change("about", None, About(title))]


def with_ohms(m: RailMap, ref: str, ohms: float) -> list[Change]:
    return [Change("parts", ref, m.parts[ref].changed(ohms=ohms))]


def test_an_edit_is_undone_and_redone() -> None:
    m = a_map()
    before = dumps(m)
    history = History(m)
    assert (history.undo_name, history.redo_name) == (None, None)
    history.do("Set R1", with_ohms(m, "R1", 236))
    after = dumps(m)
    assert m.parts["R1"].now() == 236
    assert (history.undo_name, history.redo_name) == ("Set R1", None)
    edit = history.undo()
    assert dumps(m) == before
    assert (history.undo_name, history.redo_name) == (None, "Set R1")
    assert history.redo() is edit
    assert dumps(m) == after
    assert (edit.name, edit.changes[0].item) == ("Set R1", m.parts["R1"])
    with pytest.raises(AttributeError):
        edit.name = "other"  # type: ignore[misc]


def test_order_is_restored_whatever_was_removed() -> None:
    m = a_map()
    history = History(m)
    history.do("Remove", [Change("parts", ref, None) for ref in ("V1", "R2", "R1")])
    history.undo()
    assert list(m.parts) == ["V1", "R1", "R2"]
    history.do("Rename", rename_part(m, "R1", "R101"))
    history.do("Insert", [Change("parts", None, rm.Fuse("F1", "RAW", "A"), 0)])
    assert list(m.parts) == ["F1", "V1", "R101", "R2"]
    history.undo()
    history.undo()
    assert list(m.parts) == ["V1", "R1", "R2"]


def test_a_new_edit_ends_what_could_be_redone() -> None:
    m = a_map()
    history = History(m)
    history.do("One", titled("one"))
    history.undo()
    history.do("Two", titled("two"))
    assert history.redo_name is None
    with pytest.raises(MapError, match="there is nothing to redo"):
        history.redo()


def test_there_may_be_nothing_to_undo() -> None:
    history = History(a_map())
    with pytest.raises(MapError, match="there is nothing to undo"):
        history.undo()


def test_an_edit_that_changes_nothing_is_not_kept() -> None:
    m = a_map()
    told: list[object] = []
    history = History(m, told.append)
    history.do("One", titled("one"))
    history.undo()
    told.clear()
    history.do("Nothing", [])
    history.do("The same", with_ohms(m, "R1", 150))
    assert (history.undo_name, history.redo_name, history.clean) == (None, "One", True)
    assert told == []


@pytest.mark.parametrize(
    "changes",
    [
        [Change("parts", "R9", None)],
        [*titled("other"), Change("parts", None, rm.Fuse("R1", "A", "B"))],
        [Change("parts", None, rm.Fuse("F1", "A", "B", board="Zz"))],
    ],
)
def test_a_refused_edit_leaves_map_and_history_as_they_were(changes: list[Change]) -> None:
    m = a_map()
    told: list[object] = []
    history = History(m, told.append)
    history.do("One", titled("one"))
    history.do("Two", titled("two"))
    history.undo()
    before = dumps(m)
    told.clear()
    with pytest.raises(MapError):
        history.do("Refused", changes)
    assert dumps(m) == before
    assert (history.undo_name, history.redo_name) == ("One", "Two")
    assert told == []


def test_clean_comes_from_the_mark_alone() -> None:
    m = a_map()
    history = History(m)
    assert history.clean
    history.do("One", titled("one"))
    assert not history.clean
    history.mark_clean()
    assert history.clean
    history.do("Two", titled("two"))
    history.undo()
    assert history.clean
    history.undo()
    assert not history.clean
    history.redo()
    assert history.clean
    # The same map by another way is not what was saved.
    history.do("There", titled("two"))
    history.do("And back", titled("one"))
    assert not history.clean


def test_an_edit_before_the_mark_puts_it_out_of_reach() -> None:
    m = a_map()
    history = History(m)
    history.do("One", titled("one"))
    history.mark_clean()
    history.undo()
    history.do("Other", titled("one"))
    assert not history.clean
    history.undo()
    assert not history.clean
    history.mark_clean()
    assert history.clean


def test_the_listener_hears_each_step() -> None:
    m = a_map()
    told: list[tuple[Change, ...]] = []
    history = History(m, told.append)
    one, two = titled("one"), with_ohms(m, "R1", 236)
    history.do("One", one)
    with history.together("Both"):
        history.do("Two", two)
        assert told == [tuple(one), tuple(two)]
    assert len(told) == 2
    history.undo()
    assert told[2] == (Change("parts", "R1", m.parts["R1"]),)
    history.redo()
    assert told[3] == tuple(two)


def test_the_listener_sees_map_and_history_after_the_step() -> None:
    m = a_map()
    seen: list[tuple[str, str | None, str | None]] = []
    history = History(m, lambda _: seen.append((m.title, history.undo_name, history.redo_name)))
    history.do("One", titled("one"))
    history.undo()
    history.redo()
    assert seen == [("one", "One", None), ("Bench divider", None, "One"), ("one", "One", None)]


def test_edits_together_are_one() -> None:
    m = a_map()
    before = dumps(m)
    history = History(m)
    with history.together("Move 3 parts"):
        for ref in list(m.parts):
            place = rm.Place(10, 20)
            history.do(f"Move {ref}", [Change("parts", ref, m.parts[ref].changed(place=place))])
            assert m.parts[ref].place == place
        assert not history.clean
        assert history.undo_name is None
    after = dumps(m)
    assert history.undo_name == "Move 3 parts"
    assert len(history.undo().changes) == 3
    assert dumps(m) == before
    assert history.clean
    history.redo()
    assert dumps(m) == after


def test_together_with_nothing_done_is_no_edit() -> None:
    history = History(a_map())
    with history.together("Nothing"):
        pass
    assert history.undo_name is None
    assert history.clean


class _LeftError(Exception):
    pass


def leave(history: History, error: type[BaseException], *edits: Sequence[Change]) -> None:
    """Do some edits together, then raise."""
    with history.together("Half done"):
        for changes in edits:
            history.do("One of them", changes)
        raise error


@pytest.mark.parametrize("error", [_LeftError, KeyboardInterrupt, MapError])
def test_a_block_that_raises_is_taken_back(error: type[BaseException]) -> None:
    m = a_map()
    told: list[tuple[Change, ...]] = []
    history = History(m, told.append)
    history.do("One", titled("one"))
    history.undo()
    before = dumps(m)
    told.clear()
    with pytest.raises(error):
        leave(history, error, remove_parts(m, ["R1"]), titled("half"))
    assert dumps(m) == before
    assert (history.undo_name, history.redo_name, history.clean) == (None, "One", True)
    assert told[2] == (
        Change("about", None, About("Bench divider")),
        Change("parts", None, m.parts["R1"], 1),
    )
    with pytest.raises(error):
        leave(history, error)
    assert len(told) == 3


def test_a_refusal_inside_a_block_can_be_passed_over() -> None:
    m = a_map()
    history = History(m)
    with history.together("Both"):
        history.do("One", titled("one"))
        with pytest.raises(MapError):
            history.do("Refused", [Change("parts", "R9", None)])
    assert (m.title, history.undo_name) == ("one", "Both")


def test_a_block_inside_a_block_is_part_of_it() -> None:
    m = a_map()
    before = dumps(m)
    history = History(m)
    with history.together("Outer"):
        history.do("One", titled("one"))
        with history.together("Inner"):
            assert not history.clean
            history.do("Two", with_ohms(m, "R1", 1))
        with pytest.raises(_LeftError):
            leave(history, _LeftError, titled("three"))
        assert m.title == "one"
    after = dumps(m)
    assert history.undo().name == "Outer"
    assert dumps(m) == before
    history.redo()
    assert dumps(m) == after


def test_nothing_else_is_done_inside_a_block() -> None:
    m = a_map()
    history = History(m)
    history.do("One", titled("one"))
    history.do("Two", titled("two"))
    history.undo()
    with history.together("Both"):
        for step in (history.undo, history.redo, history.mark_clean):
            with pytest.raises(MapError, match="an edit is still under way"):
                step()
    assert (history.undo_name, history.redo_name) == ("One", "Two")


def test_a_map_changed_behind_its_back_is_refused_and_nothing_lost() -> None:
    m = a_map()
    history = History(m)
    history.do("Set R1", with_ohms(m, "R1", 236))
    m.change([Change("parts", "R1", None)])
    with pytest.raises(MapError, match="there is no part 'R1'"):
        history.undo()
    assert history.undo_name == "Set R1"


# Random edits --------------------------------------------------------------------------------


@st.composite
def edits(draw: st.DrawFn, m: RailMap) -> Sequence[Change]:
    """Changes that the map may take or refuse."""
    boards, refs, nodes = list(m.boards), list(m.parts), [*m.nodes, *m.rails]
    makers: list[Callable[[], Sequence[Change]]] = [
        lambda: [Change("about", None, draw(abouts))],
        lambda: [_added(draw, m)],
        lambda: [Change("rails", None, rm.Rail(draw(names)), draw(st.integers(0, 3)))],
        lambda: [Change("boards", None, rm.Board(draw(names), 100, 80))],
        lambda: [Change("setups", None, rm.Setup(name=draw(names), unplugged=boards[:1]))],
        lambda: [Change("revisions", None, rm.Revision(draw(names), values=draw(revised(m))))],
        lambda: revisions.kept(m, draw(names)),
        lambda: revisions.fit(m, draw(st.sampled_from(["", *m.revisions]))),
    ]
    if m.revisions:
        kept = st.sampled_from(list(m.revisions))
        makers += [
            lambda: revisions.renamed(m, draw(kept), draw(names)),
            lambda: revisions.renewed(m, draw(kept)),
            lambda: revisions.removed(m, draw(kept)),
        ]
    if refs:
        makers += [
            lambda: [_replaced(draw, m, draw(st.sampled_from(refs)))],
            lambda: rename_part(m, draw(st.sampled_from(refs)), draw(names)),
            lambda: remove_parts(m, draw(st.lists(st.sampled_from(refs), min_size=1))),
            lambda: [Change("parts", draw(st.sampled_from(refs)), None)],
        ]
    if boards:
        makers += [
            lambda: rename_board(m, draw(st.sampled_from(boards)), draw(names)),
            lambda: remove_board(m, draw(st.sampled_from(boards))),
            lambda: [Change("boards", draw(st.sampled_from(boards)), None)],
        ]
    if nodes:
        makers.append(lambda: rename_node(m, draw(st.sampled_from(nodes)), draw(names)))
    for table in ("rails", "setups"):
        keys = list(m.table(table))
        if keys:
            makers.append(lambda t=table, k=keys: [Change(t, draw(st.sampled_from(k)), None)])
    return draw(st.sampled_from(makers))()


def _added(draw: st.DrawFn, m: RailMap) -> Change:
    part = draw(parts(st.just(free_ref(m, "R")), st.just(free_node(m)), list(m.boards)))
    return Change("parts", None, part, draw(st.none() | st.integers(0, len(m.parts))))


def _replaced(draw: st.DrawFn, m: RailMap, ref: str) -> Change:
    return Change("parts", ref, draw(parts(st.just(ref), names, list(m.boards))))


@settings(max_examples=50)
@given(maps(), st.data())
def test_undo_of_everything_gives_the_same_map(m: RailMap, data: st.DataObject) -> None:
    history = History(m)
    states = [dumps(m)]
    for number in range(data.draw(st.integers(1, 8))):
        try:
            history.do(str(number), data.draw(edits(m)))
        except MapError:
            assert dumps(m) == states[-1]
        if dumps(m) != states[-1]:
            states.append(dumps(m))
    for state in reversed(states[:-1]):
        history.undo()
        assert dumps(m) == state
    assert history.undo_name is None
    for state in states[1:]:
        history.redo()
        assert dumps(m) == state
    assert history.redo_name is None


class HistoryMachine(RuleBasedStateMachine):
    """A history beside the plainest one there is: a list of whole files and a place in it."""

    @initialize(m=maps())
    def start(self, m: RailMap) -> None:
        self.m = m
        self.mirror = m.copy()
        self.history = History(m, self.follow)
        self.states = [dumps(m)]
        self.at = 0
        self.clean_at: int | None = 0

    def follow(self, changes: tuple[Change, ...]) -> None:
        self.mirror.change(changes)
        self.heard = True

    def record(self) -> None:
        """Record what was done, if anything; two edits together may come back to the start."""
        if not self.heard:
            assert dumps(self.m) == self.states[self.at]
            return
        if self.clean_at is not None and self.clean_at > self.at:
            self.clean_at = None
        self.at += 1
        self.states[self.at :] = [dumps(self.m)]

    @rule(data=st.data())
    def do(self, data: st.DataObject) -> None:
        self.heard = False
        try:
            self.history.do("edit", data.draw(edits(self.m)))
        except MapError:
            assert not self.heard
        self.record()

    @rule(data=st.data(), count=st.integers(0, 3), fails=st.booleans())
    def do_together(self, data: st.DataObject, count: int, fails: bool) -> None:
        kept = self.history.undo_name
        self.heard = False
        try:
            with self.history.together("together"):
                for _ in range(count):
                    self.history.do("edit", data.draw(edits(self.m)))
                if fails:
                    raise _LeftError
        except (MapError, _LeftError):
            assert dumps(self.m) == self.states[self.at]
            assert self.history.undo_name == kept
        else:
            self.record()

    @precondition(lambda self: self.at > 0)
    @rule()
    def undo(self) -> None:
        self.history.undo()
        self.at -= 1

    @precondition(lambda self: self.at < len(self.states) - 1)
    @rule()
    def redo(self) -> None:
        self.history.redo()
        self.at += 1

    @rule()
    def mark_clean(self) -> None:
        self.history.mark_clean()
        self.clean_at = self.at

    @invariant()
    def the_map_is_the_one_recorded(self) -> None:
        assert dumps(self.m) == self.states[self.at]
        assert self.mirror == self.m
        self.m.check()

    @invariant()
    def the_names_say_what_can_be_done(self) -> None:
        assert (self.history.undo_name is None) == (self.at == 0)
        assert (self.history.redo_name is None) == (self.at == len(self.states) - 1)
        assert self.history.clean == (self.clean_at == self.at)


TestHistoryMachine = HistoryMachine.TestCase
TestHistoryMachine.settings = settings(max_examples=30, stateful_step_count=20, deadline=None)
