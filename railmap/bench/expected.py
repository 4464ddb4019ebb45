"""What a meter would show if all is as the map says, how far that may be off, and what fits.

A reading is compared with the forecast of its own setup, never with the label and never with the
forecast of another setup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, isnan, nan

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
from railmap.solve.image import Image, image_of
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


class _Desk:
    """The forecasts of one setup, with what every part's tolerance does to them."""

    def __init__(
        self, m: RailMap, setup: Setup | None, readings: Sequence[Reading], priors: Priors
    ) -> None:
        self._m, self._readings, self._setup = m, readings, setup
        self._calm = solve(m, setup=setup)
        self._values = np.array([_figure(m, self._calm, reading) for reading in readings])
        self._spreads = np.zeros(len(readings))
        if self._calm.has_figures:
            self._look(priors)

    def forecast(self, number: int) -> tuple[float, float]:
        """Return what a meter would show, and the standard uncertainty of that."""
        return float(self._values[number]), float(self._spreads[number])

    def _look(self, priors: Priors) -> None:
        circuit = self._calm.network.circuit
        parts = {
            ref: part for ref, part in circuit.parts.items()
            if ref not in circuit.faults and ref in self._calm.source.parts
            and not ref.startswith("meter at ") and part.main_field and part.now()
        }  # fmt: skip
        spread = {ref: priors.spread(part) for ref, part in parts.items()}
        refs = [ref for ref, share in spread.items() if share > 0]
        moved = self._moved([
            what_if({ref: {parts[ref].main_field: (parts[ref].now() or 0.0) * (1 + STEP)}})
            for ref in refs
        ], refs)  # fmt: skip
        shares = np.array([spread[ref] for ref in refs])[:, None]
        parts_of = (moved - self._values) / STEP * shares
        mains = circuit.mains_ratio * circuit.mains_volts * (1 + STEP)
        other = solve(self._m, setup=self._setup, change=what_if(mains_volts=mains))
        by_mains = np.array([_figure(self._m, other, reading) for reading in self._readings])
        by_mains = (by_mains - self._values) / STEP * priors.mains_spread
        self._spreads = np.sqrt(np.nan_to_num(parts_of**2).sum(axis=0) + np.nan_to_num(by_mains**2))
        self._load_meters()

    def _moved(self, changes: list[WhatIf], refs: list[str]) -> Floats:
        """Return the readings under changes of one part each, shape (changes, readings)."""
        found = np.tile(self._values, (len(changes), 1))
        try:
            image = image_of(self._m, self._calm)
        except MapError:
            exact = list(range(len(changes)))
        else:
            raw = {port.node for port in image.ports}
            exact = [
                i for i, ref in enumerate(refs)
                if ref in image.outside or self._stores(ref, raw)
            ]  # fmt: skip
            rows = [i for i in range(len(changes)) if i not in set(exact)]
            self._by_image(image, rows, changes, refs, found)
        many = solve_many(self._m, [changes[i] for i in exact], setup=self._setup)
        for number, reading in enumerate(self._readings):
            found[exact, number] = _figures(self._m, many, reading)
        return found

    def _stores(self, ref: str, raw: set[str]) -> bool:
        part = self._m.parts[ref]
        return isinstance(part, kinds.Capacitor) and not raw.isdisjoint(part.nodes)

    def _by_image(
        self, image: Image, rows: list[int], changes: list[WhatIf], refs: list[str], found: Floats
    ) -> None:
        amps_of = [r.at for r in self._readings if r.amps is not None and r.at in image.m.parts]
        means = image.means([changes[i] for i in rows], amps_of)
        hum = Hum(image) if any(r.ripple_pp is not None for r in self._readings) else None
        swings: list[Floats] = []
        if hum is not None:
            for i, amps in zip(rows, means.port_amps, strict=True):
                part = self._calm.network.circuit.parts[refs[i]].with_value(_value(changes[i]))
                swings.append(hum.under(refs[i], part, amps))
        for number, reading in enumerate(self._readings):
            ends, place = _ends(self._m, reading), place_of(self._m, reading)
            if ends is not None and {*ends} <= {*means.nodes, ZERO_NODE}:
                found[rows, number] = means.of(ends[0]) - means.of(ends[1])
            elif reading.amps is not None and place in means.part_amps:
                found[rows, number] = means.part_amps[place]
            elif reading.ripple_pp is not None and hum is not None and place in hum.nodes:
                column = hum.nodes.index(place)
                found[rows, number] = [swing[column] for swing in swings]

    def _load_meters(self) -> None:
        """Take from the forecast what the meter itself draws down."""
        found = [
            (number, _meter_ref(number), meter_of(self._m, reading).input_ohms)
            for number, reading in enumerate(self._readings) if _meter_ref(number) in self._m.parts
        ]  # fmt: skip
        drawn = [(number, {ref: ohms}) for number, ref, ohms in found if ohms is not None]
        moved = self._moved([what_if(change) for _, change in drawn], [
            next(iter(change)) for _, change in drawn
        ])  # fmt: skip
        for row, (number, _) in enumerate(drawn):
            if not isnan(float(moved[row, number])):
                self._values[number] = moved[row, number]


def _value(change: WhatIf) -> float:
    """Return the one value that a change of one part gives it."""
    new = next(iter(change.parts.values()))
    return float(next(iter(new.values())) if isinstance(new, dict) else new)  # type: ignore[arg-type]


def _figure(m: RailMap, solution: Solution, reading: Reading) -> float:
    """Return what a meter that draws nothing would show; nan where that is not known."""
    place, ends = place_of(m, reading), _ends(m, reading)
    if not solution.has_figures or not place:
        return nan
    if ends is not None:
        return solution.volts(*ends)
    if reading.amps is not None and place in m.parts:
        return solution.part(place).amps
    node = _node_of(m, place, reading)
    if not node:
        return nan
    return (
        solution.ripple(node).volts_pp
        if reading.quantity == "ripple_pp"
        else (solution.volts_rms(node))
    )


def _node_of(m: RailMap, place: str, reading: Reading) -> str:
    """Return the node whose ripple or effective volts are read; empty where none is."""
    if reading.quantity not in ("ripple_pp", "volts_rms") or reading.against:
        return ""
    if place not in m.parts:
        return place
    nodes = [node for node in m.parts[place].nodes if node != ZERO_NODE]
    return nodes[0] if len(nodes) == 1 and len(m.parts[place].pins) == 2 else ""


def _figures(m: RailMap, many: Many, reading: Reading) -> Floats:
    """Return what a meter would show in every what-if; nan where that is not known."""
    place, ends = place_of(m, reading), _ends(m, reading)
    if ends is not None:
        return many.volts(*ends)
    if reading.amps is not None and place in m.parts:
        return many.part(place).amps
    node = _node_of(m, place, reading) if place else ""
    if node and reading.quantity == "ripple_pp":
        return many.ripple(node).volts_pp
    return np.full(len(many), nan)
