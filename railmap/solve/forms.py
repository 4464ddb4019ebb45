"""What a part is in each of many what-ifs, and how one set of rows can stand for all of it.

Rows that a part has in some what-ifs only are silenced in the others: their conductances and
currents are nothing there. A tie that is not there in all of them is carried as a conductance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

from railmap.model import kinds
from railmap.model.part import Part
from railmap.solve.assemble import Row
from railmap.solve.laws import OFF_SIEMENS, Conductors, Junctions
from railmap.solve.laws_three import Converters, Transistors
from railmap.solve.topology import Tie
from railmap.solve.what_if import SHORT, Circuit, Fault

TIGHT_SIEMENS = 1e6
"""What stands for a short, and for a link that is open in another what-if."""
SILENT = {
    "siemens", "forward_siemens", "reverse_siemens", "amps", "watts", "base_siemens",
    "saturation_siemens",
}  # fmt: skip
"""Numbers that are nothing in a part that is out of the circuit."""

_LEAKS: dict[type[Any], tuple[tuple[int, int], ...]] = {
    Junctions: ((0, 1),), Transistors: ((0, 2), (1, 2)), Converters: ((0, 2), (1, 2)),
}  # fmt: skip
"""Between which of its pins a law lets a little through though it is silenced."""

PlacedTie = tuple[Tie, tuple[int, int]]
RowsOf = Callable[[Part, Fault | None, float], list[Row]]
TieOf = Callable[[Part, Fault | None, float], PlacedTie | None]
Key = tuple[type[Any], tuple[int, ...], int]


class Form(NamedTuple):
    """What a part is in one what-if: a tie, or the rows of its law."""

    rows: list[Row]
    tie: PlacedTie | None
    fault: Fault | None

    def is_like(self, other: Form) -> bool:
        """Tell whether the two differ in numbers only."""
        return (
            self.fault is other.fault
            and (self.tie is None) == (other.tie is None)
            and [(row.family, row.pins) for row in self.rows]
            == [(row.family, row.pins) for row in other.rows]
        )

    def numbers(self) -> tuple[float, ...]:
        """Return all its numbers in order; of a tie its volts."""
        if self.tie is not None:
            return (self.tie[0].volts,)
        return tuple([value for row in self.rows for value in row.numbers.values()])

    def names(self) -> list[tuple[int, str]]:
        """Return row and name of each of those numbers."""
        if self.tie is not None:
            return [(0, "volts")]
        return [(k, name) for k, row in enumerate(self.rows) for name in row.numbers]


@dataclass(frozen=True)
class Alike:
    """A part where it differs in numbers only: which what-ifs, and the numbers in each.

    Plain floats by the thousand, where as many forms would keep the garbage collector busy.
    """

    which: list[int]
    numbers: list[tuple[float, ...]]


@dataclass(frozen=True)
class Forms:
    """What every part is in every what-if.

    Attributes
    ----------
    first : dict of str to Form
        In the first what-if, by part.
    alike : dict of str to Alike
        In those of the others where it is the same but for its numbers, by part.
    odd : dict of str to dict of int to Form
        In those where it is something else, by part and number of the what-if.
    """

    first: dict[str, Form]
    alike: dict[str, Alike]
    odd: dict[str, dict[int, Form]]

    def of(self, ref: str) -> list[Form]:
        """Return everything that a part is but for its numbers, once or more often."""
        return [self.first[ref], *self.odd.get(ref, {}).values()]

    @cached_property
    def loose(self) -> set[str]:
        """Parts that are not in every what-if the same but for their numbers."""
        return {*self.odd, *_beside(self)}


def gather_forms(circuits: Sequence[Circuit], rows_of: RowsOf, tie_of: TieOf) -> Forms:
    """Return what every part is in every what-if."""
    base = circuits[0]
    following = [
        ref for ref, part in base.parts.items()
        if isinstance(part, kinds.Source) and part.follows_mains
    ]  # fmt: skip

    def form(circuit: Circuit, ref: str) -> Form:
        part, fault = circuit.parts[ref], circuit.faults.get(ref)
        tie = tie_of(part, fault, circuit.mains_ratio)
        return Form([] if tie else rows_of(part, fault, circuit.mains_ratio), tie, fault)

    found = Forms({ref: form(base, ref) for ref in base.parts}, {}, {})
    for number, circuit in enumerate(circuits[1:], start=1):
        changed = circuit.changed_from(base)
        if circuit.mains_ratio != base.mains_ratio:
            changed.update(following)
        for ref in changed:
            own = form(circuit, ref)
            if own.is_like(found.first[ref]):
                some = found.alike.setdefault(ref, Alike([], []))
                some.which.append(number)
                some.numbers.append(own.numbers())
            else:
                found.odd.setdefault(ref, {})[number] = own
    return found


def _beside(forms: Forms) -> set[str]:
    """Return ties in a loop with one that is loose: they have to share its current as one kind."""
    if not any(form.tie for odd in forms.odd for form in forms.of(odd)):
        return set()
    # Loading it takes a tenth of a second, which few what-ifs need wait for.
    import networkx as nx

    graph: nx.Graph[str] = nx.Graph()
    ends: dict[str, set[str]] = {}
    for ref in forms.first:
        tie = next((f.tie for f in forms.of(ref) if f.tie is not None), None)
        if tie is not None:
            graph.add_edge(tie[0].plus, tie[0].minus)
            ends[ref] = {tie[0].plus, tie[0].minus}
    found: set[str] = set()
    for nodes in map(set, nx.biconnected_components(graph)):
        refs = {ref for ref, own in ends.items() if own <= nodes}
        if len(refs) >= len(nodes) and not refs.isdisjoint(forms.odd):
            found |= refs
    return found


class Template:
    """All the rows that a loose part ever has.

    Parameters
    ----------
    part : Part
        The part.
    forms : iterable of Form
        Everything that it is.
    """

    def __init__(self, part: Part, forms: Iterable[Form]) -> None:
        self._rows: dict[Key, Row] = {}
        shorts = False
        for form in forms:
            shorts = shorts or form.fault is SHORT
            for key, row in _keyed(form):
                self._rows.setdefault(key, replace(row, numbers=_silenced(row.numbers)))
        # What blocks leaks a little; what is out of the circuit does not, so that is taken off.
        self._leaks = [
            (key, (key[1][a], key[1][b])) for key in self._rows for a, b in _LEAKS.get(key[0], ())
        ]
        ends = [part.pins.index(end) for end in part.ends]
        self._short = (ends[0], ends[1]) if shorts else None

    def places(self, form: Form) -> list[int]:
        """Return which of all its rows are those of one form."""
        order = {key: k for k, key in enumerate(self._rows)}
        return [order[key] for key, _ in _keyed(form)]

    def rows(self, form: Form) -> list[tuple[Row, bool]]:
        """Return all its rows as they are in one form, and which of them let anything by."""
        own = dict(_keyed(form))
        found = [(own.get(key, silent), key in own) for key, silent in self._rows.items()]
        for key, pins in self._leaks:
            found.append((conductor(0.0 if key in own else -OFF_SIEMENS, pins=pins), False))
        if self._short is not None:
            is_short = form.fault is SHORT
            tight = conductor(TIGHT_SIEMENS if is_short else 0.0, pins=self._short)
            found.append((tight, is_short))
        return found


def _keyed(form: Form) -> list[tuple[Key, Row]]:
    """Return the rows of a form, told apart by family, pins, and how often these came before."""
    rows = form.rows
    if form.tie is not None and form.fault is None:
        rows = [conductor(TIGHT_SIEMENS, form.tie[0].volts, form.tie[1])]
    found: list[tuple[Key, Row]] = []
    for row in rows:
        before = sum(r.family is row.family and r.pins == row.pins for _, r in found)
        found.append(((row.family, row.pins, before), row))
    return found


def _silenced(numbers: dict[str, float]) -> dict[str, float]:
    return {name: 0.0 if name in SILENT else value for name, value in numbers.items()}


def conductor(siemens: float, volts: float = 0.0, pins: tuple[int, int] = (0, 1)) -> Row:
    """Return Ohm's law with a fixed voltage in series as a row."""
    return Row(Conductors, pins, {"siemens": siemens, "volts": volts})
