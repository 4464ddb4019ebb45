"""A rail: a node with a name, the volts it should have, and where to probe it."""

from __future__ import annotations

import msgspec

from railmap.model.checks import NonNegative, Positive, check_fields, check_name


class Rail(msgspec.Struct, frozen=True, omit_defaults=True, forbid_unknown_fields=True):
    """A named node.

    Parameters
    ----------
    node : str
        The node it names.
    name : str
        What it is called; the node's own name where empty.
    label_volts : float or None
        Volts printed on the drawing. Never taken as the truth.
    band_pct : float
        Acceptable band around the label, plus and minus.
    max_volts : float or None
        Absolute limit of what hangs on it, as a magnitude.
    max_ripple_volts : float or None
        Highest acceptable ripple, peak to peak.
    probe : str
        Where to put the probe.
    order : int
        Place in the order of probing; 0 for none.
    notes : str
        Anything worth writing down.
    """

    node: str
    name: str = ""
    label_volts: float | None = None
    band_pct: NonNegative = 10.0
    max_volts: Positive | None = None
    max_ripple_volts: Positive | None = None
    probe: str = ""
    order: int = 0
    notes: str = ""

    def __post_init__(self) -> None:
        check_name(self.node, "the rail's node")
        if self.name:
            check_name(self.name, "the rail's name")
        check_fields(self)

    @property
    def title(self) -> str:
        """Its name, or that of its node."""
        return self.name or self.node

    @property
    def band_volts(self) -> tuple[float, float] | None:
        """Lowest and highest acceptable volts, or None where no label is known."""
        if self.label_volts is None:
            return None
        half = abs(self.label_volts) * self.band_pct / 100
        return self.label_volts - half, self.label_volts + half
