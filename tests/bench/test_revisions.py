"""Revisions on the bench: kept, fitted, told apart; and undone."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import maps

import railmap as rm
from railmap.bench import revisions
from railmap.bench.history import History
from railmap.bench.revisions import AS_DRAWN, Difference
from railmap.errors import MapError
from railmap.model.part import Earlier
from railmap.store.files import dumps


@pytest.fixture
def m() -> rm.RailMap:
    """Three droppers in a row; late units differ in two of them, mid ones in another value."""
    m = rm.RailMap("Recorder")
    m.add(rm.Source("V1", "RAW", "0V", volts=24))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=33))
    m.add(rm.Resistor("R2", "A", "B", ohms=82, rated_watts=1))
    m.add(rm.Resistor("R3", "B", "0V", ohms=270))
    m.add_revision("late", values={"R2": {"ohms": 68, "rated_watts": 2}, "R3": {"ohms": 220}})
    m.add_revision("mid", values={"R2": {"ohms": 75}})
    return m


def refusal(make: Callable[..., object], *args: object) -> str:
    with pytest.raises(MapError) as refused:
        make(*args)
    return str(refused.value)


def put(m: rm.RailMap, part: rm.Part) -> None:
    m.change([rm.model.railmap.Change("parts", part.ref, part)])


def ohms(m: rm.RailMap) -> list[float | None]:
    return [m.parts[ref].now("ohms") for ref in ("R1", "R2", "R3")]


def test_a_revision_is_fitted_with_its_source_and_date(m: rm.RailMap) -> None:
    m.change(revisions.fit(m, "late", "2024-05-06"))
    assert ohms(m) == [33, 68, 220]
    assert m.parts["R2"].fitted == {
        "ohms": rm.Known(68.0, "2024-05-06", "revision late"),
        "rated_watts": rm.Known(2.0, "2024-05-06", "revision late"),
    }
    assert m.parts["R2"].ohms == 82
    assert revisions.present(m) == "late"
    assert revisions.fit(m, "late", "2025-01-01") == []


def test_another_revision_takes_its_place_and_leaves_no_trace(m: rm.RailMap) -> None:
    before = m.document()
    m.change(revisions.fit(m, "late"))
    m.change(revisions.fit(m, "mid"))
    assert ohms(m) == [33, 75, 270]
    assert m.parts["R2"].fitted == {"ohms": rm.Known(75.0, "", "revision mid")}
    assert revisions.present(m) == "mid"
    m.change(revisions.fit(m, AS_DRAWN))
    assert m.document() == before
    assert revisions.present(m) == AS_DRAWN


def test_what_somebody_read_on_the_unit_stays(m: rm.RailMap) -> None:
    put(m, m.parts["R2"].with_fitted(75, source="marking on the body"))
    put(m, m.parts["R1"].with_fitted(39))
    m.change(revisions.fit(m, "late"))
    assert ohms(m) == [39, 75, 220]
    assert m.parts["R2"].fitted["rated_watts"].source == "revision late"
    assert revisions.present(m) is None
    assert revisions.standing(m, "late") == [
        Difference("R1", "ohms", 33.0, 39.0, 33.0),
        Difference("R2", "ohms", 82.0, 75.0, 68.0),
    ]
    m.change(revisions.fit(m, AS_DRAWN))
    assert ohms(m) == [39, 75, 270]
    assert revisions.standing(m, AS_DRAWN)[1].value == 82.0


def test_what_agrees_with_the_revision_does_not_stand_in_its_way(m: rm.RailMap) -> None:
    put(m, m.parts["R2"].with_fitted(68, source="marking on the body"))
    m.change(revisions.fit(m, "late"))
    assert m.parts["R2"].fitted["ohms"].source == "marking on the body"
    assert revisions.standing(m, "late") == []
    assert revisions.present(m) == "late"


def test_what_was_found_stands_above_it(m: rm.RailMap) -> None:
    put(m, m.parts["R2"].with_found(90))
    m.change(revisions.fit(m, "late"))
    assert m.parts["R2"].now() == 90
    assert revisions.present(m) == "late"


def test_values_that_do_not_go_together_are_refused_with_the_part(m: rm.RailMap) -> None:
    m.add(rm.Load("L1", "B", "0V", amps=0.1))
    m.add_revision("odd", values={"L1": {"watts": 2}})
    before = m.document()
    sentence = refusal(revisions.fit, m, "odd")
    assert sentence.startswith("L1: with its last known values, ")
    assert m.document() == before


def test_unknown_revisions_are_named(m: rm.RailMap) -> None:
    sentence = "there is no revision 'x' in the map; it has late, mid"
    for make in (revisions.fit, revisions.removed, revisions.renewed):
        assert refusal(make, m, "x") == sentence
    assert refusal(revisions.renamed, m, "x", "y") == sentence
    assert refusal(revisions.differences, m, "late", "x") == sentence
    assert refusal(revisions.standing, m, "x") == sentence
    bare = rm.RailMap()
    assert refusal(revisions.fit, bare, "x") == "there is no revision 'x' in the map; it keeps none"


def test_keeping_takes_what_differs_from_the_drawing(m: rm.RailMap) -> None:
    put(m, m.parts["R1"].with_fitted(33))
    put(m, m.parts["R2"].with_fitted(47, date="2024-05-06").with_fitted(1, "rated_watts"))
    put(m, m.parts["R3"].with_fitted(300, source="marking on the body"))
    m.change(revisions.kept(m, "last", "2024-05-07", "From the third series on."))
    last = rm.Revision(
        "last", "2024-05-07", "From the third series on.",
        {"R2": {"ohms": 47}, "R3": {"ohms": 300}},
    )  # fmt: skip
    assert m.revisions["last"] == last
    assert m.parts["R1"].fitted["ohms"].source == ""
    assert m.parts["R2"].fitted == {
        "ohms": rm.Known(47.0, "2024-05-06", "revision last"),
        "rated_watts": rm.Known(1.0),
    }
    assert m.parts["R3"].fitted["ohms"].source == "marking on the body"
    assert revisions.present(m) == "last"
    m.change(revisions.fit(m, "mid"))
    assert ohms(m) == [33, 75, 300]


def test_nothing_is_kept_of_nothing(m: rm.RailMap) -> None:
    put(m, m.parts["R1"].with_fitted(33))
    nothing = "no fitted value differs from the drawn one, so there is nothing to keep"
    assert refusal(revisions.kept, m, "last") == nothing
    assert refusal(revisions.renewed, m, "late") == nothing
    assert refusal(revisions.kept, m, "late") == "there is already a revision 'late'"
    put(m, m.parts["R1"].with_fitted(39))
    assert refusal(revisions.kept, m, " ") == "the revision's name must not be empty"


def test_a_revision_takes_in_what_is_fitted(m: rm.RailMap) -> None:
    m.change(revisions.fit(m, "mid"))
    put(m, m.parts["R1"].with_fitted(39))
    m.change(revisions.renewed(m, "mid"))
    assert m.revisions["mid"].values == {"R1": {"ohms": 39.0}, "R2": {"ohms": 75.0}}
    m.change(revisions.fit(m, AS_DRAWN))
    assert ohms(m) == [33, 82, 270]


def test_a_renamed_revision_stays_the_one_that_is_fitted(m: rm.RailMap) -> None:
    m.change(revisions.fit(m, "mid"))
    m.change(revisions.renamed(m, "mid", "1974"))
    assert list(m.revisions) == ["late", "1974"]
    assert m.parts["R2"].fitted["ohms"].source == "revision 1974"
    m.change(revisions.fit(m, AS_DRAWN))
    assert ohms(m) == [33, 82, 270]
    assert revisions.renamed(m, "late", "late") == []
    assert refusal(revisions.renamed, m, "late", "1974") == "there is already a revision '1974'"
    assert refusal(revisions.renamed, m, "late", "") == "the revision's name must not be empty"


def test_what_a_removed_revision_fitted_goes_with_the_next_and_is_remembered(
    m: rm.RailMap,
) -> None:
    m.change(revisions.fit(m, "late", "2024-05-06"))
    m.change(revisions.removed(m, "late"))
    assert ohms(m) == [33, 68, 220]
    assert revisions.present(m) is None
    m.change(revisions.fit(m, "mid"))
    assert ohms(m) == [33, 75, 270]
    known = Earlier("fitted", "ohms", 68.0, "2024-05-06", "revision late")
    assert known in m.parts["R2"].earlier


def test_two_that_are_alike_are_told_apart_by_the_source(m: rm.RailMap) -> None:
    m.add_revision("twin", values={"R2": {"ohms": 75}, "R1": {"ohms": 33}})
    m.change(revisions.fit(m, "twin"))
    assert revisions.present(m) == "twin"
    put(m, m.parts["R2"].changed(fitted={"ohms": rm.Known(75.0)}))
    put(m, m.parts["R1"].changed(fitted={}))
    assert revisions.present(m) == "mid"


def test_an_empty_revision_is_as_drawn(m: rm.RailMap) -> None:
    m.add_revision("first")
    m.change(revisions.fit(m, "first"))
    assert revisions.present(m) == AS_DRAWN


def test_revisions_are_told_apart_value_by_value(m: rm.RailMap) -> None:
    assert revisions.differences(m, "mid", "late") == [
        Difference("R2", "ohms", 82.0, 75.0, 68.0),
        Difference("R2", "rated_watts", 1.0, 1.0, 2.0),
        Difference("R3", "ohms", 270.0, 270.0, 220.0),
    ]
    (row,) = revisions.differences(m, "mid", AS_DRAWN)
    assert row == Difference("R2", "ohms", 82.0, 75.0, 82.0)
    assert revisions.differences(m, "late", "late") == []


def test_what_a_revision_would_change_now(m: rm.RailMap) -> None:
    m.change(revisions.fit(m, "mid"))
    assert revisions.from_the_present(m, "mid") == []
    (row,) = revisions.from_the_present(m, AS_DRAWN)
    assert row == Difference("R2", "ohms", 82.0, 75.0, 82.0)


def test_a_rating_that_the_drawing_lacks_is_a_difference(m: rm.RailMap) -> None:
    m.add_revision("rated", values={"R1": {"rated_watts": 2}})
    row = Difference("R1", "rated_watts", None, None, 2.0)
    assert revisions.differences(m, AS_DRAWN, "rated") == [row]


def test_a_part_knows_what_revisions_say_of_it(m: rm.RailMap) -> None:
    late = {"ohms": 68.0, "rated_watts": 2.0}
    assert revisions.said_of(m, "R2") == {"late": late, "mid": {"ohms": 75.0}}
    assert revisions.said_of(m, "R1") == {}


def test_the_rails_follow(m: rm.RailMap) -> None:
    """Ohm's law by hand: 24 V over 33, 82 and 270 ohms, and over 33, 68 and 220 ohms."""
    assert rm.solve(m).volts("B") == pytest.approx(24 * 270 / 385)
    m.change(revisions.fit(m, "late"))
    assert rm.solve(m).volts("B") == pytest.approx(24 * 220 / 321)


@given(maps(), st.data())
def test_fitting_can_be_undone_and_comes_to_rest(m: rm.RailMap, data: st.DataObject) -> None:
    history = History(m)
    before = dumps(m)
    name = data.draw(st.sampled_from([AS_DRAWN, *m.revisions]))
    try:
        history.do("Fit", revisions.fit(m, name))
    except MapError:
        assert dumps(m) == before
        return
    assert revisions.fit(m, name) == []
    for ref, part in m.parts.items():
        for field, value in (m.revisions[name].of(ref) if name else {}).items():
            known = part.fitted[field]
            assert known.value == value or known.source != revisions.source_of(name)
    if history.undo_name:
        history.undo()
    assert dumps(m) == before


@given(maps())
def test_what_is_kept_is_what_is_fitted(m: rm.RailMap) -> None:
    if not revisions.fitted_values(m) or "kept" in m.revisions:
        return
    settled = {ref: part.settled() for ref, part in m.parts.items()}
    m.change(revisions.kept(m, "kept"))
    assert m.revisions["kept"].values == revisions.fitted_values(m)
    assert {ref: part.settled() for ref, part in m.parts.items()} == settled
    assert revisions.from_the_present(m, "kept") == []
