"""What the tiles and labels say, from the solution."""

from __future__ import annotations

import math

from railmap.model import kinds
from railmap.model.part import Part
from railmap.solve.solution import Solution
from railmap.ui.canvas.items import Face
from railmap.ui.theme import stress_step
from railmap.units import code, show


def value_text(part: Part) -> str:
    """Return the last known main value of a part as the bench writes it."""
    if isinstance(part, kinds.Switch):
        return "closed" if part.closed else "open"
    if isinstance(part, kinds.Fuse):
        return code(part.rated_amps, "A") if part.rated_amps else ""
    value = part.now()
    if isinstance(part, kinds.PassTransistor) and value is not None:
        return f"β {value:g}"
    return "" if value is None else code(value, part.unit)


def part_face(part: Part, solution: Solution | None, number: int, changed: bool) -> Face:
    """Return what the tile of a part says."""
    flag = (isinstance(part, kinds.Switch) and part.closed) or (
        isinstance(part, kinds.PassTransistor) and part.polarity == "pnp"
    )
    if solution is None:
        return Face(part.kind, flag, part.ref, value_text(part), "", "", -1, False, changed, False)
    stress = float(solution.stress[number])
    now = solution.network.circuit.parts[part.ref]
    figure, second = _figures(solution, number, stress, isinstance(part, kinds.Capacitor))
    out = part.ref in solution.network.circuit.faults
    step = stress_step(stress)
    return Face(
        part.kind, flag, part.ref, value_text(now), figure, second, step, stress > 1, changed, out
    )


def _figures(solution: Solution, number: int, stress: float, blocks: bool) -> tuple[str, str]:
    """Return the two figures of a tile: percent of rating first where there is a rating."""
    alternating = isinstance(solution.network.parts[number], kinds.Winding)
    amps = float((solution.amps_rms if alternating else solution.part_amps)[number])
    flow = show(abs(amps), "A") if math.isfinite(amps) else "–"
    drop = float(solution.part_volts[number])
    across = show(abs(drop), "V") if math.isfinite(drop) else "–"
    if math.isnan(stress):
        return (across, "") if blocks else (flow, across)
    return percent(stress), across if blocks else flow


def percent(stress: float) -> str:
    """Return a stress as a percentage.

    Examples
    --------
    >>> percent(0.834), percent(12.3)
    ('83 %', '>999 %')
    """
    if math.isnan(stress):
        return "–"
    return f"{stress * 100:.0f} %" if stress < 9.995 else ">999 %"


def rail_texts(solution: Solution | None, node: str, title: str) -> tuple[str, str]:
    """Return what the label of a rail says, in full and in short."""
    if solution is None:
        return title, title
    volts = solution.volts(node)
    if not math.isfinite(volts):
        return f"{title}  no path to 0 V", f"{title} –"
    if solution.is_alternating(node):
        rms = solution.volts_rms(node)
        return f"{title}  {rms:.1f} V AC", f"{title} ~{rms:.0f}"
    return f"{title}  {volts_text(volts)}", f"{title} {volts_text(volts, 1).removesuffix(' V')}"


def shift_text(per_cent: float) -> str:
    """Return how far something is off, in per cent with a sign; nothing is never below nothing.

    Examples
    --------
    >>> shift_text(9.44), shift_text(-0.004), shift_text(-3)
    ('+9.4 %', '+0.0 %', '-3.0 %')
    """
    return f"{round(per_cent, 1) + 0.0:+.1f} %"


def volts_text(volts: float, decimals: int = 2) -> str:
    """Return volts with their sign, and one decimal at most above 100 V.

    Examples
    --------
    >>> volts_text(29.114), volts_text(-0.001)
    ('+29.11 V', '0.00 V')
    """
    if not math.isfinite(volts):
        return "–"
    text = f"{abs(volts):.{1 if abs(volts) >= 99.95 else decimals}f}"
    sign = "" if float(text) == 0 else ("+" if volts > 0 else "−")
    return f"{sign}{text} V"
