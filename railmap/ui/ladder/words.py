"""What the ladder says in words, for screen readers and tips."""

from __future__ import annotations

import math
from collections.abc import Sequence

from railmap.bench.part_columns import spec_for
from railmap.bench.rungs import Rung
from railmap.figures import Figures
from railmap.model.kinds import Load, Winding
from railmap.ui.faces import percent, value_text, volts_text
from railmap.ui.ladder.figures import Mark
from railmap.ui.ladder.scene import LadderScene
from railmap.ui.ladder.shapes import Key
from railmap.ui.ladder.steps import rungs_in_order

MOST_NAMED = 24
"""So many of the parts that are selected are told by name."""


def about(scene: LadderScene, key: Key) -> str:
    """Return what is to be known of a rung, part or board; nothing if it is not on the ladder."""
    kind, name = key
    if kind == "rail" and name in scene.ladder.rungs:
        return about_rung(scene, scene.ladder.rungs[name])
    if kind == "part" and name in scene.map.parts:
        return about_part(scene, name)
    return f"Board {name}" if kind == "board" and name else ""


def about_rung(scene: LadderScene, rung: Rung) -> str:
    """Return the figures of a rung as sentences."""
    volts = scene.figures.of(rung.node)
    if not math.isfinite(volts):
        why = "no path to 0 V" if scene.figures.volts else "no figures"
        return f"{rung.title}: {why}."
    style, order = scene.style, rungs_in_order(scene.ladder, scene.figures)
    place = f"rung {order.index(rung.node) + 1} of {len(order)} from the top"
    found = [f"{rung.title} {volts_text(volts, style)}, {place}."]
    before = scene.figures.calm.get(rung.node)
    if before is not None:
        found.append(f"Without drift {volts_text(before, style)}.")
    found += _limits(rung, volts, style)
    loads = [ref for foot in scene.ladder.feet if foot.node == rung.node for ref in foot.refs]
    amps = [abs(scene.figures.amps.get(ref, math.nan)) for ref in loads]
    if loads:
        total = style.show(sum(a for a in amps if math.isfinite(a)), "A")
        found.append(f"Loads {', '.join(loads)} take {total}.")
    for mark in scene.figures.marks:
        if mark.node == rung.node:
            found.append(_reading(mark, style))
    return " ".join(found)


def _reading(mark: Mark, style: Figures) -> str:
    fits = {"ok": "fits the forecast", "watch": "to be watched", "act": "does not fit the forecast"}
    said = f"Reading {mark.stage} {volts_text(mark.volts, style)}"
    where = f" in setup {mark.elsewhere}" if mark.elsewhere else ""
    return f"{said}{where}, {fits.get(mark.verdict, 'not compared')}."


def _limits(rung: Rung, volts: float, style: Figures) -> list[str]:
    rail, found = rung.rail, list[str]()
    if rail is None:
        return ["No named rail."]
    band = rail.band_volts
    if rail.label_volts is not None and band is not None:
        verdict = "inside" if band[0] <= volts <= band[1] else "outside"
        label, low, high = (volts_text(v, style) for v in (rail.label_volts, *band))
        found.append(f"Label {label}; {verdict} {low} to {high}.")
    if rail.max_volts is not None:
        state = "over its limit of" if abs(volts) > rail.max_volts else "limit"
        found.append(f"{state.capitalize()} {style.show(rail.max_volts, 'V')}.")
    return found


def about_part(scene: LadderScene, ref: str) -> str:
    """Return the figures of a part as sentences."""
    part, figures = scene.map.parts[ref], scene.figures
    word = spec_for(part).word.lower()
    solved = scene.solution.network.circuit.parts.get(ref) if scene.solution is not None else None
    found = [f"{ref}, {word} {value_text(solved or part, scene.style)}".rstrip()]
    nodes = [n for n in dict.fromkeys(scene.nodes_of(ref)) if n in scene.ladder.rungs]
    titles = [scene.ladder.rungs[n].title for n in nodes]
    if titles:
        between = any(drop.ref == ref for drop in scene.ladder.drops)
        feeds = any(ref in feeder.windings or ref in feeder.refs for feeder in scene.ladder.feeders)
        way = " from " if between else ", feeds " if feeds else " on "
        found[0] += way + (" to " if between else " and ").join(titles)
    found[0] += f", on {part.board}." if part.board else "."
    if ref in figures.out:
        found.append("Out of the circuit.")
    amps, stress = figures.amps.get(ref, math.nan), figures.stress.get(ref, math.nan)
    if math.isfinite(amps) and not isinstance(part, Winding):
        verb = "Takes" if isinstance(part, Load) else "Carries"
        found.append(f"{verb} {scene.style.show(abs(amps), 'A')}.")
    if not math.isnan(stress):
        found.append(f"{percent(stress)} of its rating{', over it' if stress > 1 else ''}.")
    return " ".join(found)


def about_all(scene: LadderScene, keys: Sequence[Key]) -> str:
    """Return what is to be known of all that is selected."""
    return " ".join(text for text in (about(scene, key) for key in keys) if text)


def short(scene: LadderScene, keys: Sequence[Key]) -> str:
    """Return the name of what is selected with its main figure; of several parts the names."""
    if len(keys) > 1:
        more = f" and {len(keys) - MOST_NAMED} more" if len(keys) > MOST_NAMED else ""
        return f"{len(keys)} parts, {', '.join(name for _, name in keys[:MOST_NAMED])}{more}"
    kind, name = keys[0] if keys else ("", "")
    if kind == "rail" and name in scene.ladder.rungs:
        volts = volts_text(scene.figures.of(name), scene.style)
        return f"{scene.ladder.rungs[name].title} {volts}"
    if kind == "part" and name in scene.map.parts:
        stress = scene.figures.stress.get(name, math.nan)
        return name if math.isnan(stress) else f"{name} {percent(stress)}"
    return ""
