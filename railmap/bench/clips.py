"""Parts on their way from map to map: copied as a small map, pasted with free references.

A clip is a map of its own: the parts with their places, the boards they lie on, and the rails
they touch. As text it is a ``.railmap`` file, or a table for a spreadsheet.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from railmap.bench.groups import floor_xy, fresh_refs, settled, spot_at
from railmap.bench.parts_entry import entered, refused_sentence
from railmap.bench.parts_sheet import read_sheet, to_text
from railmap.bench.parts_table import read_rows, table_texts
from railmap.errors import MapError
from railmap.figures import POINT, Figures
from railmap.model.part import Place
from railmap.model.railmap import Change, RailMap
from railmap.store.files import dumps, loads

MOST_PARTS = 20_000
"""A clip with more parts is taken for a mistake."""


def clip_of(m: RailMap, places: Mapping[str, Place], refs: Sequence[str]) -> RailMap:
    """Return parts of a map as a small map of their own.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part, its own or one found for it.
    refs : sequence of str
        The parts.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150)), m.add_rail("A", "+12")
    >>> clip = clip_of(m, {"R1": Place(0, 0)}, ["R1"])
    >>> list(clip.parts), list(clip.rails)
    (['R1'], ['A'])
    """
    clip = RailMap(title=m.title)
    parts = [m.parts[ref] for ref in refs]
    for name in dict.fromkeys(part.board for part in parts if part.board):
        # A photo would make the clip a thousand times as long.
        clip.boards[name] = replace(m.boards[name], photo=None, marks=())
    for part in parts:
        clip.add(part.changed(place=places[part.ref]))
    for node in clip.nodes:
        if node in m.rails:
            clip.rails[node] = m.rails[node]
    return clip


def clip_bytes(clip: RailMap) -> bytes:
    """Return a clip as the bytes of a ``.railmap`` file."""
    return dumps(clip)


def clip_text(clip: RailMap, figures: Figures = POINT) -> str:
    """Return the parts of a clip as a table with tabs, for a spreadsheet.

    Examples
    --------
    >>> from railmap import Resistor
    >>> clip = RailMap()
    >>> _ = clip.add(Resistor("R1", "RAW", "A", ohms=4700))
    >>> clip_text(clip).splitlines()[1].split()[:5]
    ['R1', 'Resistor', '4k7', 'RAW', 'A']
    """
    parts = clip.copy()
    parts.boards, parts.rails = {}, {}
    rows = table_texts(parts, figures)
    filled = [i for i in range(len(rows[0])) if any(row[i] for row in rows[1:])]
    return to_text([[row[i] for i in filled] for row in rows], "\t")


def clip_from_bytes(data: bytes) -> RailMap:
    """Read a clip that was copied here or in another window.

    Raises
    ------
    FileError
        If it is no clip; one sentence.
    """
    return _some_parts(loads(data, "what was copied"))


def clip_from_text(text: str, figures: Figures = POINT) -> RailMap:
    r"""Read a clip from the table of a spreadsheet.

    Parameters
    ----------
    text : str
        Rows with tabs, semicolons or commas between the cells.
    figures : Figures
        How figures are written.

    Raises
    ------
    RailmapError
        If a row cannot be taken as it stands, or there is none; one sentence.

    Examples
    --------
    >>> list(clip_from_text("Reference\tDrawn\tFrom\tTo\nR1\t4k7\tRAW\tA").parts)
    ['R1']
    """
    if text.lstrip().startswith("{"):
        return clip_from_bytes(text.encode("utf-8", "replace"))
    clip = RailMap()
    try:
        readings = read_rows(clip, read_sheet(text, figures=figures).typed())
    except csv.Error as error:
        raise MapError(f"what was copied is no table: {error}") from None
    refused = refused_sentence(readings)
    if refused:
        raise MapError(f"what was copied cannot be pasted: {refused}")
    clip.change(entered(clip, readings))
    return _some_parts(clip)


def pasted(
    m: RailMap,
    places: Mapping[str, Place],
    clip: RailMap,
    onto: tuple[float, float] | None = None,
    step_mm: float = 10.0,
) -> tuple[list[Change], list[str]]:
    """Put a clip into a map.

    Parts whose references are taken get the next free ones. Nodes keep their names, and so join
    those of the map; rails of nodes that the map has not named come along, without their name
    where it stands for another node.

    Parameters
    ----------
    m : RailMap
        The map.
    places : dict of str to Place
        Place of every part in the map now.
    clip : RailMap
        What to put in; every part has a place.
    onto : tuple of float, optional
        Point of the floor that the middle of the parts goes to; without it they go where they
        were, a step to the right and down.
    step_mm : float
        That step.

    Returns
    -------
    tuple
        The changes, and the references of the new parts.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R1", "RAW", "A", ohms=150, place=Place(0, 0)))
    >>> changes, refs = pasted(m, {"R1": Place(0, 0)}, m)
    >>> _ = m.change(changes)
    >>> refs, m.parts["R2"].nodes, m.parts["R2"].place
    (['R2'], ('RAW', 'A'), Place(x_mm=10.0, y_mm=10.0, turn=0))
    """
    held = {ref: part.place or Place(0, 0) for ref, part in clip.parts.items()}
    at = {ref: floor_xy(clip, ref, held) for ref in clip.parts}
    dx = dy = step_mm
    if onto is not None:
        xs, ys = [x for x, _ in at.values()], [y for _, y in at.values()]
        dx, dy = onto[0] - (min(xs) + max(xs)) / 2, onto[1] - (min(ys) + max(ys)) / 2
    names = fresh_refs(m, clip.parts)
    changes: list[Change] = []
    boards: set[str] = set()
    for (ref, part), name in zip(clip.parts.items(), names, strict=True):
        x, y = at[ref]
        board, place = spot_at(m, x + dx, y + dy, held[ref].turn)
        boards.add(board)
        changes.append(Change("parts", None, part.changed(ref=name, board=board, place=place)))
    return [*changes, *_rails(m, clip), *settled(m, places, boards)], names


def _rails(m: RailMap, clip: RailMap) -> list[Change]:
    """Return the changes that bring along the rails that a map does not have."""
    # A name must not stand for two nodes, nor be that of another node.
    taken = {rail.name for rail in m.rails.values()} | set(m.nodes) | set(m.rails)
    found: list[Change] = []
    for node, rail in clip.rails.items():
        if node not in m.rails:
            name = "" if rail.name in taken - {node} else rail.name
            found.append(Change("rails", None, replace(rail, name=name)))
    return found


def _some_parts(clip: RailMap) -> RailMap:
    if not clip.parts:
        raise MapError("what was copied holds no part")
    if len(clip.parts) > MOST_PARTS:
        raise MapError(f"what was copied holds more than {MOST_PARTS} parts")
    return clip
