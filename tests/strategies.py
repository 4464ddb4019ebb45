"""Random maps for property tests: every kind of part, every field, names in any script."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from typing import Any

from hypothesis import strategies as st
from msgspec import inspect

import railmap as rm
from railmap.errors import MapError
from railmap.model.board import JPEG_BEGINS, Mark, Photo
from railmap.model.checks import MAX_WHOLE, fields_of, options_of
from railmap.model.kinds import KINDS
from railmap.model.part import Earlier
from railmap.model.railmap import About

# Printable, and without a blank at either end: what a name may be.
_SIGNS = st.characters(exclude_categories=("C", "Z"))
names = st.text(st.one_of(_SIGNS, st.just(" ")), min_size=1, max_size=12).filter(
    lambda name: name == name.strip()
)
texts = st.text(max_size=20)


def values(wanted: inspect.Type) -> st.SearchStrategy[Any]:
    """Good values of a plain field type."""
    return st.one_of([_of_one(option) for option in options_of(wanted)])


def _of_one(option: inspect.Type) -> st.SearchStrategy[Any]:
    match option:
        case inspect.FloatType(gt=above, ge=low, le=high):
            return st.floats(
                min_value=above if above is not None else low,
                max_value=high,
                exclude_min=above is not None,
                allow_nan=False,
                allow_infinity=False,
            )
        case inspect.IntType():
            return st.integers(-MAX_WHOLE, MAX_WHOLE)
        case inspect.StrType():
            return texts
        case inspect.BoolType():
            return st.booleans()
        case inspect.LiteralType(values=choices):
            return st.sampled_from(choices)
        case inspect.NoneType():
            return st.none()
        case _:
            raise TypeError(f"no values for {option}")


def fields(kind: type, without: Sequence[str] = ()) -> st.SearchStrategy[dict[str, Any]]:
    """Keywords for a document type: all that it requires, and some of the others."""
    known = {name: field for name, field in fields_of(kind).items() if name not in without}
    return st.fixed_dictionaries(
        {name: values(field.type) for name, field in known.items() if field.required},
        optional={name: values(field.type) for name, field in known.items() if not field.required},
    )


_floor_mm = st.floats(-1e4, 1e4)
places = st.builds(
    rm.Place,
    _floor_mm,
    _floor_mm,
    st.integers(-8, 8).map(lambda quarters: 90 * quarters),
)
# The text begins as that of every JPEG file; no reader has to make a picture of it.
photos = st.none() | st.builds(
    Photo,
    st.binary(max_size=9).map(lambda data: b64encode(JPEG_BEGINS + data).decode("ascii")),
    _floor_mm,
    _floor_mm,
    st.floats(1e-3, 10.0),
    st.integers(-8, 8).map(lambda quarters: 90 * quarters),
    st.floats(0.0, 100.0),
)
marks = st.lists(fields(Mark).map(lambda given: Mark(**given)), max_size=2).map(tuple)
_earlier = fields(Earlier).map(lambda given: Earlier(**given))
abouts = fields(About).map(lambda given: About(**given))


@st.composite
def parts(
    draw: st.DrawFn,
    refs: st.SearchStrategy[str] = names,
    nodes: st.SearchStrategy[str] = names,
    boards: Sequence[str] = (),
    kinds: Sequence[type[rm.Part]] = KINDS,
) -> rm.Part:
    """A part of any kind, with drawn, fitted and found values."""
    kind = draw(st.sampled_from(kinds))
    given = draw(
        fields(kind, without=("ref", *kind.pins, "board", "place", "fitted", "found", "earlier"))
    )
    given |= {"ref": draw(refs)} | {pin: draw(nodes) for pin in kind.pins}
    given |= {"board": draw(st.sampled_from(["", *boards])), "place": draw(st.none() | places)}
    given |= {"earlier": draw(st.lists(_earlier, max_size=1).map(tuple))}
    part = kind(**_made_to_agree(draw, kind, given))
    for stage in ("fitted", "found"):
        try:
            part = part.changed(**{stage: draw(_known(part))})
        except MapError:  # each value is good, but not beside the others
            continue
    return part


def _made_to_agree(draw: st.DrawFn, kind: type[rm.Part], given: dict[str, Any]) -> dict[str, Any]:
    """Mend what fields say of each other."""
    if kind is rm.Load:
        one = draw(st.sampled_from(("amps", "ohms", "watts")))
        given |= {"amps": None, "ohms": None, "watts": None, one: draw(st.floats(1e-6, 1e6))}
        given["at_volts"] = draw(st.floats(1e-3, 1e3))
    if (
        kind is rm.Zener
        and given.get("ohms", 0) * given.get("test_amps", 0) >= given["zener_volts"]
    ):
        given["ohms"] = 0.0
    if kind in (rm.Regulator, rm.Converter):
        given["volts"] = given["volts"] or -5.0
    if given.get("rated_c") is not None and given.get("zero_c") is not None:
        given["rated_c"], given["zero_c"] = draw(st.floats(-50, 100)), draw(st.floats(101, 400))
    return given


def _known(part: rm.Part) -> st.SearchStrategy[Mapping[str, rm.Known]]:
    return st.fixed_dictionaries(
        {},
        optional={
            name: st.builds(rm.Known, value, texts, texts)
            for name, value in _numbers(type(part)).items()
        },
    )


def _numbers(kind: type[rm.Part]) -> dict[str, st.SearchStrategy[float]]:
    """Good values of each number of a kind of part, by field."""
    return {
        name: _of_one(option)
        for name, field in fields_of(kind).items()
        for option in options_of(field.type)
        if isinstance(option, inspect.FloatType)
    }


@st.composite
def revised(draw: st.DrawFn, m: rm.RailMap) -> dict[str, dict[str, float]]:
    """Values of some parts of a map, as a revision holds them; they may not go together."""
    refs = draw(_some_of([ref for ref, part in m.parts.items() if _numbers(type(part))]))
    return {
        ref: {
            name: draw(known[name])
            for known in (_numbers(type(m.parts[ref])),)
            for name in draw(st.lists(st.sampled_from(list(known)), min_size=1, unique=True))
        }
        for ref in refs
    }


def _some_of(known: Sequence[str]) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(known), unique=True) if known else st.just([])


@st.composite
def maps(draw: st.DrawFn) -> rm.RailMap:
    """A whole map: boards, parts, rails, setups and revisions that agree with each other."""
    m = rm.RailMap(**draw(fields(About)))
    for name in draw(st.lists(names, max_size=3, unique=True)):
        given = draw(fields(rm.Board, without=("name", "x_mm", "y_mm", "photo", "marks")))
        given |= {"photo": draw(photos), "marks": draw(marks)}
        m.add_board(name, x_mm=draw(_floor_mm), y_mm=draw(_floor_mm), **given)
    nodes = ["0V", *draw(st.lists(names, min_size=1, max_size=4))]
    for ref in draw(st.lists(names, max_size=5, unique=True)):
        m.add(draw(parts(st.just(ref), st.sampled_from(nodes), list(m.boards))))
    called = draw(st.lists(names, max_size=3, unique=True))
    for node, name in zip(draw(_some_of(list(dict.fromkeys(nodes)))), called, strict=False):
        given = draw(fields(rm.Rail, without=("node", "name")))
        m.add_rail(node, draw(st.sampled_from(["", name])), **given)
    for name in draw(st.lists(names, max_size=2, unique=True)):
        given = draw(fields(rm.Setup, without=("name", "unplugged", "accessories_out")))
        unplugged, out = draw(_some_of(list(m.boards))), draw(_some_of(list(m.parts)))
        m.add_setup(name, unplugged=unplugged, accessories_out=out, **given)
    for name in draw(st.lists(names, max_size=2, unique=True)):
        m.add_revision(name, date=draw(texts), notes=draw(texts), values=draw(revised(m)))
    return m
