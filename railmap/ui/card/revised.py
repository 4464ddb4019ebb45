"""What the revisions of a model say of a part, in words."""

from __future__ import annotations

from collections.abc import Sequence

from railmap.bench.revisions import Difference, said_of
from railmap.figures import Figures
from railmap.model.part import Part
from railmap.model.railmap import RailMap
from railmap.ui.card.fields import part_fields

MOST_NAMED = 3
"""So many values of a revision are named where there is room for one line."""


def value_words(part: Part, field: str, value: float | None, figures: Figures) -> str:
    """Return a value of a part as the bench writes it."""
    wanted = next(f for f in part_fields(type(part)) if f.name == field)
    return "nothing" if value is None else wanted.write(value, figures)


def field_words(part: Part, field: str) -> str:
    """Return what a value is called; empty for the main one, which needs no name."""
    if field == part.main_field:
        return ""
    return next(f.label.lower() for f in part_fields(type(part)) if f.name == field)


def revision_lines(m: RailMap, ref: str, figures: Figures) -> list[str]:
    """Return a line for each revision that says something of a part, such as ``late: 68R``."""
    part = m.parts[ref]
    return [
        f"{name}: "
        + ", ".join(
            f"{field_words(part, field)} {value_words(part, field, value, figures)}".lstrip()
            for field, value in fields.items()
        )
        for name, fields in said_of(m, ref).items()
    ]


def place_words(m: RailMap, row: Difference) -> str:
    """Return the part, and the field unless it is the main one."""
    return f"{row.ref} {field_words(m.parts[row.ref], row.field)}".rstrip()


def difference_lines(m: RailMap, rows: Sequence[Difference], figures: Figures) -> list[str]:
    """Return a line for each value that differs, such as ``R102 82R → 68R``."""
    lines: list[str] = []
    for row in rows:
        part = m.parts[row.ref]
        before, now = (
            value_words(part, row.field, value, figures) for value in (row.before, row.value)
        )
        lines.append(f"{place_words(m, row)} {before} → {now}")
    return lines


def short_words(m: RailMap, rows: Sequence[Difference], figures: Figures) -> str:
    """Return what a revision has in place of what is drawn, on one line."""
    if len(rows) > MOST_NAMED:
        return f"{len(rows)} values"
    return ", ".join(
        f"{place_words(m, row)} {value_words(m.parts[row.ref], row.field, row.value, figures)}"
        for row in rows
    )
