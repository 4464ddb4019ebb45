"""What the circuit itself says, beside its figures: islands, open ends, contradictions."""

from __future__ import annotations

import numpy as np

from railmap.model.kinds import Load, Regulator
from railmap.solve.assemble import COLLAPSE_VOLTS, Network
from railmap.solve.laws import PowerLoads, SteadyLoads
from railmap.solve.measure import Turn
from railmap.solve.nodal import Operating
from railmap.solve.solution import Finding


def look(network: Network, operating: Operating, turn: Turn | None = None) -> tuple[Finding, ...]:
    """Return everything about a circuit that a reader of its figures has to know."""
    if network.contradiction:
        return (contradiction(network.contradiction),)
    if not operating.settled:
        return (_unsettled(network, operating),)
    dropped = _dropping_out(network, operating, turn)
    return (
        *_limited(network, turn), *_islands(network), *_open_ends(network),
        *_collapsed(network, operating), *dropped,
    )  # fmt: skip


def _list(names: list[str] | tuple[str, ...], most: int = 6) -> str:
    """Put names into words.

    Examples
    --------
    >>> _list(["R1"]), _list(["R1", "R2", "R3"])
    ('R1', 'R1, R2 and R3')
    """
    shown = list(names)
    if len(shown) > most:
        shown = [*shown[: most - 1], f"{len(names) - most + 1} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def contradiction(refs: list[str]) -> Finding:
    """Return what there is to say about a loop of parts without resistance."""
    if len(refs) == 1:
        text = f"{refs[0]} has no resistance and both its ends are on one node"
    else:
        text = f"{_list(refs)} form a loop without resistance, so its current has no limit"
    return Finding("contradiction", f"{text}: give one of them a resistance.", tuple(refs))


def _unsettled(network: Network, operating: Operating) -> Finding:
    refs = tuple(network.refs[i] for i in operating.restless)
    where = f" around {_list(refs)}" if refs else ""
    return Finding("not settled", f"The voltages{where} do not settle, so nothing is shown.", refs)


def _limited(network: Network, turn: Turn | None) -> list[Finding]:
    """Say that a lamp in the mains makes everything read low."""
    watts = network.circuit.limiter_watts
    if watts is None or turn is None or not turn.mains_rms > 0:
        return []
    volts = float(turn.lamp_watts.sum() / turn.mains_rms)
    text = (
        f"A lamp of {watts:g} W in series with the mains takes {volts:.3g} V: all readings are low "
        "and compare only with those taken behind the same lamp."
    )
    return [Finding("limiter", text)]


def _islands(network: Network) -> list[Finding]:
    topology = network.topology
    found: list[Finding] = []
    for number in range(1, int(topology.island.max(initial=0)) + 1):
        at = np.flatnonzero(topology.island == number)
        nodes = tuple(topology.nodes[i] for i in at)
        slots = np.flatnonzero(np.isin(network.slot_node, at))
        inside: set[int] = set(network.slot_part[slots].tolist())
        refs = tuple(
            network.refs[i] for i in sorted(inside)
            if network.refs[i] in network.conducting
        )  # fmt: skip
        verb = "has" if len(nodes) == 1 else "have"
        text = f"{_list(nodes)} {verb} no path to 0 V (parts: {_list(refs)}); the rest is solved."
        found.append(Finding("island", text, refs, nodes))
    return found


def _open_ends(network: Network) -> list[Finding]:
    """Name the parts with an end that leads nowhere, as a misspelt node makes them."""
    found: list[Finding] = []
    for ref, ends in network.loose_ends:
        verb = "leads" if len(ends) == 1 else "lead"
        text = f"{ref}: {_list(ends)} {verb} nowhere, no other part is on it."
        found.append(Finding("open end", text, (ref,), ends))
    return found


def _collapsed(network: Network, operating: Operating) -> list[Finding]:
    """Name the loads that get too few volts to draw what they should."""
    refs: list[str] = []
    for family in network.families:
        if isinstance(family, SteadyLoads | PowerLoads):
            v = operating.node_volts[family.pins]
            low = np.abs(v[:, 0] - v[:, 1]) < family.collapse_volts
            parts = network.slot_part[family.slots[low, 0]]
            refs += [network.refs[i] for i in parts if isinstance(network.parts[i], Load)]
    if not refs:
        return []
    verb = "gets" if len(refs) == 1 else "get"
    text = f"{_list(refs)} {verb} too few volts to draw the full current."
    return [Finding("collapsed", text, tuple(refs))]


SAG_PART = 0.001
"""A regulator has dropped out where its output falls short by more than this part."""


def _dropping_out(network: Network, operating: Operating, turn: Turn | None) -> list[Finding]:
    """Name the regulators that get too few volts to hold their output."""
    found: list[Finding] = []
    for number, part in enumerate(network.parts):
        if not isinstance(part, Regulator) or part.ref in network.circuit.faults:
            continue
        at = int(network.start[number])
        nodes = network.slot_node[at : at + 3]
        v = operating.node_volts[nodes]
        sign = 1.0 if part.volts > 0 else -1.0
        least = abs(part.volts) * (1 - SAG_PART)
        low, top = _output_range(sign, sign * (v[1] - v[2]), at + 1, turn)
        limited = part.limit_amps is not None and (
            abs(operating.pin_amps[at + 1]) >= part.limit_amps * (1 - SAG_PART)
        )
        without_input = sign * (v[0] - v[2]) < COLLAPSE_VOLTS
        if low >= least or limited or without_input:
            continue
        when = "in the valleys of the ripple" if top >= least else "altogether"
        text = f"{part.ref} drops out {when}: its input is too low to hold {part.volts:g} V."
        found.append(Finding("drop-out", text, (part.ref,)))
    return found


def _output_range(sign: float, mean: float, pin: int, turn: Turn | None) -> tuple[float, float]:
    """Return the least and the most volts of an output over a turn, whichever way it points."""
    if turn is None:
        return mean, mean
    ends = sign * float(turn.drop_low[pin]), sign * float(turn.drop_high[pin])
    return min(ends), max(ends)
