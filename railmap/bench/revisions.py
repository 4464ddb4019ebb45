"""Revisions of a model: kept from what is fitted, fitted to the unit, and told apart.

The functions that change something return the changes to hand to
:meth:`railmap.bench.history.History.do`; they change nothing themselves.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from msgspec.structs import replace

from railmap.bench.known import with_known
from railmap.errors import MapError
from railmap.model.checks import show
from railmap.model.part import Known, Part
from railmap.model.railmap import Change, RailMap
from railmap.model.revision import Revision

AS_DRAWN: Final = ""
"""Stands for no revision: what the drawing says."""
_OF_A_REVISION: Final = "revision "


@dataclass(frozen=True)
class Difference:
    """A value in which two revisions, or a revision and the drawing, differ.

    Attributes
    ----------
    ref, field : str
        The part and its field.
    drawn, before, value : float or None
        What the drawing says, the one revision and the other, in SI units.
    """

    ref: str
    field: str
    drawn: float | None
    before: float | None
    value: float | None


def source_of(name: str) -> str:
    """Return what stands as the source of a value that a revision is fitted with.

    Examples
    --------
    >>> source_of("late")
    'revision late'
    """
    return _OF_A_REVISION + name


def revision_named(m: RailMap, name: str) -> Revision:
    """Return a revision; refuse a name that the map does not have."""
    if name not in m.revisions:
        known = f"it has {', '.join(m.revisions)}" if m.revisions else "it keeps none"
        raise MapError(f"there is no revision {show(name)} in the map; {known}")
    return m.revisions[name]


def fitted_values(m: RailMap) -> dict[str, dict[str, float]]:
    """Return the fitted values that differ from the drawn ones, by part and field.

    Parameters
    ----------
    m : RailMap
        The map.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R101", "A", "B", ohms=33).with_fitted(33))
    >>> _ = m.add(Resistor("R102", "B", "C", ohms=82).with_fitted(68))
    >>> fitted_values(m)
    {'R102': {'ohms': 68.0}}
    """
    found = {
        ref: {f: k.value for f, k in part.fitted.items() if k.value != getattr(part, f)}
        for ref, part in m.parts.items()
    }
    return {ref: values for ref, values in found.items() if values}


def kept(m: RailMap, name: str, date: str = "", notes: str = "") -> list[Change]:
    """Keep what is fitted and differs from the drawing as a new revision.

    Fitted values of which nobody said where they come from are from then on those of the
    revision, so that another one can be fitted in its place; the others keep their source.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        What the revision shall be called.
    date : str
        ISO 8601 date of the revision, or empty.
    notes : str
        Anything worth writing down.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If nothing that is fitted differs from the drawing, or the name is taken or cannot be.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R102", "A", "B", ohms=82).with_fitted(68))
    >>> _ = m.change(kept(m, "late"))
    >>> m.revisions["late"].values, m.parts["R102"].fitted["ohms"].source
    ({'R102': {'ohms': 68.0}}, 'revision late')
    """
    if name in m.revisions:
        raise MapError(f"there is already a revision {show(name)}")
    revision = Revision(name, date, notes, _worth_keeping(m))
    return [Change("revisions", None, revision), *_handed_over(m, revision)]


def renewed(m: RailMap, name: str) -> list[Change]:
    """Put what is fitted now in the place of the values that a revision had.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        The revision.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such revision, or nothing that is fitted differs from the drawing.
    """
    revision = replace(revision_named(m, name), values=_worth_keeping(m))
    return [Change("revisions", name, revision), *_handed_over(m, revision)]


def renamed(m: RailMap, old: str, new: str) -> list[Change]:
    """Rename a revision, also as the source of the values that are fitted from it.

    Parameters
    ----------
    m : RailMap
        The map.
    old, new : str
        The revision, and what it shall be called.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If there is no such revision, or the new name is taken or cannot be.
    """
    revision = revision_named(m, old)
    if old == new:
        return []
    if new in m.revisions:
        raise MapError(f"there is already a revision {show(new)}")
    changes = [Change("revisions", old, replace(revision, name=new))]
    fitted = {ref: part.fitted for ref, part in m.parts.items()}
    return changes + _with_source(m, fitted, source_of(old), source_of(new))


def removed(m: RailMap, name: str) -> list[Change]:
    """Remove a revision; what is fitted from it stays until another one is fitted.

    Raises
    ------
    MapError
        If there is no such revision.
    """
    return [Change("revisions", revision_named(m, name).name, None)]


def fit(m: RailMap, name: str, date: str = "") -> list[Change]:
    """Fit a revision to the unit, or what the drawing says.

    Values that are fitted from another revision are taken away. Those of any other source stay,
    also where the revision says otherwise: somebody read them on this very unit, while a revision
    only tells how its series was made. A found value stands above both, as ever.

    Only a value whose revision the map does not keep any more goes into the history of its part;
    what other revisions say stands there as long as they are kept.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        The revision; :data:`AS_DRAWN` for none.
    date : str
        ISO 8601 date on which that was found out, or empty.

    Returns
    -------
    list of Change
        Empty if the unit is fitted with it already.

    Raises
    ------
    MapError
        If there is no such revision, or a part cannot have a value of it beside its others.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R102", "A", "B", ohms=82))
    >>> _ = m.add_revision("late", values={"R102": {"ohms": 68}})
    >>> _ = m.change(fit(m, "late"))
    >>> m.parts["R102"].now(), m.parts["R102"].fitted["ohms"].source
    (68.0, 'revision late')
    >>> _ = m.change(fit(m, AS_DRAWN))
    >>> m.parts["R102"].now()
    82.0
    """
    values = revision_named(m, name).values if name else {}
    sources = {source_of(known) for known in m.revisions}
    changes: list[Change] = []
    for ref, part in m.parts.items():
        wanted = {f: Known(v, date, source_of(name)) for f, v in values.get(ref, {}).items()}
        changed = _fitted_with(part, wanted, sources)
        if changed != part:
            changes.append(Change("parts", ref, changed))
    return changes


def standing(m: RailMap, name: str) -> list[Difference]:
    """Return where the unit would differ from a revision though it is fitted with it.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        The revision; :data:`AS_DRAWN` for none.

    Returns
    -------
    list of Difference
        Fitted values of another source than a revision, which stand above its own.
    """
    wanted = revision_named(m, name).values if name else {}
    found: list[Difference] = []
    for ref, part in m.parts.items():
        for field, known in part.fitted.items():
            drawn = getattr(part, field)
            value = wanted.get(ref, {}).get(field, drawn)
            if known.value != value and not known.source.startswith(_OF_A_REVISION):
                found.append(Difference(ref, field, drawn, known.value, value))
    return found


def present(m: RailMap) -> str | None:
    """Return the revision whose values are those that are fitted now, wherever they come from.

    Parameters
    ----------
    m : RailMap
        The map.

    Returns
    -------
    str or None
        Its name; :data:`AS_DRAWN` if no fitted value differs from the drawing, None if what is
        fitted is neither. Of two that are alike it is the one that the values come from.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R102", "A", "B", ohms=82))
    >>> _ = m.add_revision("late", values={"R102": {"ohms": 68}})
    >>> present(m)
    ''
    >>> _ = m.change([Change("parts", "R102", m.parts["R102"].with_fitted(68))])
    >>> present(m)
    'late'
    """
    fitted = fitted_values(m)
    alike = [name for name in m.revisions if _values(m, name) == fitted]
    sources = {known.source for part in m.parts.values() for known in part.fitted.values()}
    found = [*(name for name in alike if source_of(name) in sources), *alike]
    return AS_DRAWN if not fitted else found[0] if found else None


def differences(m: RailMap, before: str, name: str) -> list[Difference]:
    """Return the values in which two revisions differ, in the order of the parts.

    Parameters
    ----------
    m : RailMap
        The map.
    before, name : str
        The one and the other; :data:`AS_DRAWN` for the drawing.

    Returns
    -------
    list of Difference

    Raises
    ------
    MapError
        If there is no such revision.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R102", "A", "B", ohms=82))
    >>> _ = m.add_revision("late", values={"R102": {"ohms": 68}})
    >>> differences(m, AS_DRAWN, "late")
    [Difference(ref='R102', field='ohms', drawn=82.0, before=82.0, value=68.0)]
    """
    return _between(m, _values(m, before), _values(m, name))


def from_the_present(m: RailMap, name: str) -> list[Difference]:
    """Return the values in which a revision differs from what is fitted now.

    Parameters
    ----------
    m : RailMap
        The map.
    name : str
        The revision; :data:`AS_DRAWN` for the drawing.
    """
    return _between(m, fitted_values(m), _values(m, name))


def said_of(m: RailMap, ref: str) -> dict[str, Mapping[str, float]]:
    """Return what each revision says of a part: its values by field, by name of the revision.

    Examples
    --------
    >>> from railmap import Resistor
    >>> m = RailMap()
    >>> _ = m.add(Resistor("R102", "A", "B", ohms=82))
    >>> _ = m.add_revision("late", values={"R102": {"ohms": 68}})
    >>> said_of(m, "R102")
    {'late': {'ohms': 68.0}}
    """
    return {name: r.of(ref) for name, r in m.revisions.items() if ref in r.values}


def _values(m: RailMap, name: str) -> dict[str, dict[str, float]]:
    """Return the values of a revision that differ from the drawing, which may have moved on."""
    found = {
        ref: {f: v for f, v in fields.items() if v != getattr(m.parts[ref], f)}
        for ref, fields in (revision_named(m, name).values.items() if name else ())
    }
    return {ref: fields for ref, fields in found.items() if fields}


def _between(
    m: RailMap, one: Mapping[str, Mapping[str, float]], other: Mapping[str, Mapping[str, float]]
) -> list[Difference]:
    rows: list[Difference] = []
    for ref, part in m.parts.items():
        before, now = one.get(ref, {}), other.get(ref, {})
        for field in dict.fromkeys([*before, *now]):
            drawn = getattr(part, field)
            row = Difference(ref, field, drawn, before.get(field, drawn), now.get(field, drawn))
            if row.before != row.value:
                rows.append(row)
    return rows


def _worth_keeping(m: RailMap) -> dict[str, dict[str, float]]:
    values = fitted_values(m)
    if not values:
        raise MapError("no fitted value differs from the drawn one, so there is nothing to keep")
    return values


def _handed_over(m: RailMap, revision: Revision) -> list[Change]:
    """Return the changes that make the values without a source those of a revision."""
    return _with_source(m, revision.values, "", source_of(revision.name))


def _with_source(
    m: RailMap, fields: Mapping[str, Collection[str]], old: str, new: str
) -> list[Change]:
    """Return the changes that give some fitted values another source, if they have the old one."""
    changes: list[Change] = []
    for ref, names in fields.items():
        part = m.parts[ref]
        fitted = {
            f: replace(known, source=new) if f in names and known.source == old else known
            for f, known in part.fitted.items()
        }
        if fitted != part.fitted:
            changes.append(Change("parts", ref, part.changed(fitted=fitted)))
    return changes


def _fitted_with(part: Part, wanted: Mapping[str, Known], sources: set[str]) -> Part:
    """Return a part with the values of a revision in the place of those of the others."""
    for field, known in part.fitted.items():
        if known.source not in sources and known.source.startswith(_OF_A_REVISION):
            part = with_known(part, "fitted", field, None)
    fitted = {f: known for f, known in part.fitted.items() if known.source not in sources}
    for field, known in wanted.items():
        held = part.fitted.get(field)
        same = held is not None and (held.value, held.source) == (known.value, known.source)
        fitted.setdefault(field, held if held is not None and same else known)
    return part.changed(fitted=fitted) if fitted != part.fitted else part
