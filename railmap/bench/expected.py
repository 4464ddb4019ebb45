"""What a meter would show if all is as the map says, how far that may be off, and what fits.

A reading is compared with the forecast of its own setup, never with the label and never with the
forecast of another setup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, isnan, nan
from typing import NamedTuple

import numpy as np

from railmap.bench.metering import meter_of, uncertainty
from railmap.bench.priors import Priors
from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.part import ZERO_NODE
from railmap.model.railmap import RailMap
from railmap.model.record import Reading
from railmap.model.setup import Setup
from railmap.solve.front import solve
from railmap.solve.hum import Hum
from railmap.solve.image import Image, Means, image_of
from railmap.solve.laws import Floats
from railmap.solve.many import Many, solve_many
from railmap.solve.solution import Solution
from railmap.solve.what_if import WhatIf, what_if

STEP = 0.02
"""Share that a value is moved by to see what it does to a reading."""
NO_METER_OHMS = 1e18


@dataclass(frozen=True)
class Limits:
    """Standard deviations from which on a reading is to be watched, and to be acted on.

    Common practice, no source: defaults to be changed.
    """

    watch: float = 2.0
    act: float = 3.0

    def verdict(self, misfit: float) -> str:
        """Return ``ok``, ``watch`` or ``act``; empty where there is no misfit."""
        if isnan(misfit):
            return ""
        size = abs(misfit)
        return "ok" if size < self.watch else "watch" if size < self.act else "act"


@dataclass(frozen=True)
class Judged:
    """A reading beside its forecast.

    Attributes
    ----------
    reading : Reading
        What was read.
    node : str
        The part or the node it is at; empty where the map has no such place.
    forecast : float
        What the meter would show in that setup if all is as the map says, in the unit of the
        reading; nan where that is not known.
    spread : float
        Standard uncertainty of the difference: tolerances, loads, mains and meter together.
    meter_spread : float
        That of the meter alone.
    misfit : float
        Reading less forecast, over the spread.
    verdict : str
        ``ok``, ``watch`` or ``act``; empty without a forecast.
    """

    reading: Reading
    node: str
    forecast: float
    spread: float
    meter_spread: float
    misfit: float
    verdict: str


def judge(
    m: RailMap, readings: Iterable[Reading], priors: Priors | None = None,
    limits: Limits | None = None,
) -> list[Judged]:  # fmt: skip
    """Compare readings with what they would be if all is as the map says.

    Parameters
    ----------
    m : RailMap
        The map with its setups and meters.
    readings : iterable of Reading
        Each is compared with the forecast of its own setup.
    priors : Priors, optional
        Tolerances and spreads where the map does not say.
    limits : Limits, optional
        What is to be watched, and to be acted on.

    Returns
    -------
    list of Judged
        In the order of the readings.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=24),
    ...     rm.Resistor("R1", "RAW", "A", ohms=150),
    ...     rm.Resistor("R2", "A", "0V", ohms=150),
    ... ):
    ...     _ = m.add(part)
    >>> [j.verdict for j in judge(m, [rm.Reading("A", volts=12.1), rm.Reading("A", volts=9.0)])]
    ['ok', 'act']
    """
    known, bounds = priors or Priors(), limits or Limits()
    all_of = list(readings)
    found: dict[int, Judged] = {}
    for setup in dict.fromkeys(reading.setup for reading in all_of):
        rows = [i for i, reading in enumerate(all_of) if reading.setup == setup]
        some = _in_setup(m, setup, [all_of[i] for i in rows], known, bounds)
        found.update(zip(rows, some, strict=True))
    return [found[i] for i in range(len(all_of))]


def forecast_points(
    m: RailMap, setup: str, points: Sequence[Reading], priors: Priors | None = None
) -> list[Judged]:
    """Return what a meter would show at some points of a setup.

    Parameters
    ----------
    m : RailMap
        The map with its setups and meters.
    setup : str
        Name of the setup; empty for all plugged at the design mains.
    points : sequence of Reading
        Where, and what is read there; their values say nothing.
    priors : Priors, optional
        Tolerances and spreads where the map does not say.

    Returns
    -------
    list of Judged
        With a forecast and its spread, without misfit and verdict.
    """
    some = _in_setup(m, setup, list(points), priors or Priors(), Limits())
    return [Judged(j.reading, j.node, j.forecast, j.spread, j.meter_spread, nan, "") for j in some]


def place_of(m: RailMap, reading: Reading) -> str:
    """Return the part or node a reading is at; empty where the map has no such place."""
    if reading.at in m.parts:
        return reading.at
    try:
        return m.node_of(reading.at)
    except MapError:
        return ""


def _in_setup(
    m: RailMap, name: str, readings: list[Reading], priors: Priors, limits: Limits
) -> list[Judged]:
    with_meters = _with_meters(m, readings)
    desk = _Desk(with_meters, m.setups.get(name), readings, priors)
    found: list[Judged] = []
    for number, reading in enumerate(readings):
        forecast, spread = desk.forecast(number)
        meter = uncertainty(m, reading)
        both = hypot(spread, meter)
        misfit = (reading.value - forecast) / both if both > 0 else nan
        found.append(Judged(
            reading, place_of(m, reading), forecast, both, meter, misfit, limits.verdict(misfit)
        ))  # fmt: skip
    return found


def _with_meters(m: RailMap, readings: Sequence[Reading]) -> RailMap:
    """Return the map with a meter across each point, which draws nothing until a what-if says."""
    twin = m.copy()
    for number, reading in enumerate(readings):
        ends = _ends(m, reading)
        if ends is not None:
            ref = _meter_ref(number)
            twin.parts[ref] = kinds.Resistor(ref, *ends, ohms=NO_METER_OHMS)
    return twin


def _meter_ref(number: int) -> str:
    return f"meter at reading {number}"


def _ends(m: RailMap, reading: Reading) -> tuple[str, str] | None:
    """Return the nodes between which mean volts are read; None where that is not what is read."""
    place = place_of(m, reading)
    if reading.quantity != "volts" or not place:
        return None
    part = m.parts.get(place)
    if part is not None:
        a, b = (str(getattr(part, pin)) for pin in part.ends)
        return a, b
    try:
        return place, m.node_of(reading.against) if reading.against else ZERO_NODE
    except MapError:
        return None


class _Move(NamedTuple):
    """A part with one of its values moved."""

    ref: str
    field: str
    value: float

    @property
    def what_if(self) -> WhatIf:
        """The same as a what-if."""
        return what_if({self.ref: {self.field: self.value}})


class _Desk:
    """The forecasts of one setup, with what every part's tolerance does to them."""

    def __init__(
        self, m: RailMap, setup: Setup | None, readings: Sequence[Reading], priors: Priors
    ) -> None:
        self._m, self._readings, self._setup = m, readings, setup
        self._calm = solve(m, setup=setup)
        self._meters = {_meter_ref(number) for number in range(len(readings))}
        self._values = self._figures(self._calm)
        self._spreads = np.zeros(len(readings))
        if self._calm.has_figures:
            self._look(priors)

    def forecast(self, number: int) -> tuple[float, float]:
        """Return what a meter would show, and the standard uncertainty of that."""
        return float(self._values[number]), float(self._spreads[number])

    def _look(self, priors: Priors) -> None:
        circuit = self._calm.network.circuit
        loads = [
            (number, _Move(_meter_ref(number), "ohms", ohms))
            for number, reading in enumerate(self._readings)
            if _meter_ref(number) in self._m.parts
            and (ohms := meter_of(self._m, reading).input_ohms) is not None
        ]
        shares, moves = self._tolerances(priors)
        moved = self._moved([*moves, *(move for _, move in loads)])
        by_part = (moved[: len(moves)] - self._values) / STEP * shares
        mains = circuit.mains_ratio * circuit.mains_volts * (1 + STEP)
        other = solve(self._m, setup=self._setup, change=what_if(mains_volts=mains))
        by_mains = (self._figures(other) - self._values) / STEP * priors.mains_spread
        self._spreads = np.sqrt(np.nan_to_num(np.vstack([by_part, by_mains]) ** 2).sum(axis=0))
        for row, (number, _) in enumerate(loads, start=len(moves)):
            if not isnan(moved[row, number]):
                self._values[number] = moved[row, number]

    def _tolerances(self, priors: Priors) -> tuple[Floats, list[_Move]]:
        """Return how far good parts may be off, shape (parts, 1), and each moved by a step."""
        circuit = self._calm.network.circuit
        shares: list[float] = []
        moves: list[_Move] = []
        for ref, part in circuit.parts.items():
            value = part.now() if part.main_field else None
            # A settled part does not tell any more that its value was found by measuring.
            share = priors.spread(self._m.parts[ref])
            if ref not in circuit.faults and ref not in self._meters and value and share > 0:
                shares.append(share)
                moves.append(_Move(ref, part.main_field, value * (1 + STEP)))
        return np.array(shares)[:, None], moves

    def _moved(self, moves: list[_Move]) -> Floats:
        """Return the readings under changes of one part each, shape (changes, readings)."""
        found = np.tile(self._values, (len(moves), 1))
        try:
            image = image_of(self._m, self._calm)
        except MapError:
            exact = list(range(len(moves)))
        else:
            raw = {port.node for port in image.ports}
            exact = [
                i for i, move in enumerate(moves)
                if move.ref in image.outside or self._stores(move.ref, raw)
            ]  # fmt: skip
            rows = [i for i in range(len(moves)) if i not in set(exact)]
            found[rows] = self._by_image(image, [moves[i] for i in rows])
        many = solve_many(self._m, [moves[i].what_if for i in exact], setup=self._setup)
        found[exact] = self._figures(many)
        return found

    def _stores(self, ref: str, raw: set[str]) -> bool:
        part = self._m.parts[ref]
        return isinstance(part, kinds.Capacitor) and not raw.isdisjoint(part.nodes)

    def _by_image(self, image: Image, moves: list[_Move]) -> Floats:
        """Return the readings by an image of the map; as they are where it does not show them."""
        found = np.tile(self._values, (len(moves), 1))
        amps_of = [r.at for r in self._readings if r.amps is not None and r.at in image.m.parts]
        means = image.means([move.what_if for move in moves], amps_of)
        swings = self._swings(image, moves, means)
        for number, reading in enumerate(self._readings):
            ends, place = _ends(self._m, reading), place_of(self._m, reading)
            if ends is not None and {*ends} <= {*means.nodes, ZERO_NODE}:
                found[:, number] = means.of(ends[0]) - means.of(ends[1])
            elif reading.amps is not None and place in means.part_amps:
                found[:, number] = means.part_amps[place]
            elif reading.ripple_pp is not None and place in swings:
                found[:, number] = swings[place]
        return found

    def _swings(self, image: Image, moves: list[_Move], means: Means) -> dict[str, Floats]:
        """Return the ripple of each node under each change; of none if nobody read a ripple."""
        if all(reading.ripple_pp is None for reading in self._readings):
            return {}
        hum, parts = Hum(image), self._calm.network.circuit.parts
        rows = [
            hum.under(move.ref, parts[move.ref].with_value(move.value, move.field), amps)
            for move, amps in zip(moves, means.port_amps, strict=True)
        ]
        return {node: np.array([row[i] for row in rows]) for i, node in enumerate(hum.nodes)}

    def _figures(self, solved: Solution | Many) -> Floats:
        """Return what meters that draw nothing would show, shape (what-ifs of many, readings)."""
        return np.array([_figure(self._m, solved, reading) for reading in self._readings]).T


def _figure(m: RailMap, solved: Solution | Many, reading: Reading) -> Floats | float:
    """Return what a meter that draws nothing would show; nan where that is not known."""
    place, ends = place_of(m, reading), _ends(m, reading)
    if ends is not None:
        return solved.volts(*ends)
    if reading.amps is not None and place in m.parts:
        return solved.part(place).amps
    node = _node_of(m, place, reading) if place else ""
    if node and reading.quantity == "ripple_pp":
        return solved.ripple(node).volts_pp
    if node and isinstance(solved, Solution):
        return solved.volts_rms(node)
    return nan if isinstance(solved, Solution) else np.full(len(solved), nan)


def _node_of(m: RailMap, place: str, reading: Reading) -> str:
    """Return the node whose ripple or effective volts are read; empty where none is."""
    if reading.quantity not in ("ripple_pp", "volts_rms") or reading.against:
        return ""
    if place not in m.parts:
        return place
    nodes = [node for node in m.parts[place].nodes if node != ZERO_NODE]
    return nodes[0] if len(nodes) == 1 and len(m.parts[place].pins) == 2 else ""
