"""railmap: map where each supply rail is made, forecast its volts, and see what runs hot.

The public API for scripts. Values are SI; see the classes for units.
"""

from railmap.errors import FileError, MapError, NotYetError, RailmapError, UnitError
from railmap.model.board import Board
from railmap.model.kinds import (
    Bridge,
    Capacitor,
    Choke,
    Converter,
    Diode,
    Fuse,
    Link,
    Load,
    PassTransistor,
    Regulator,
    Resistor,
    Source,
    Switch,
    Winding,
    Zener,
)
from railmap.model.part import Known, Part, Place
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap
from railmap.model.record import Accuracy, Meter, Reading, Unit
from railmap.model.revision import Revision
from railmap.model.setup import Setup
from railmap.solve.front import solve
from railmap.solve.many import Many, ManyParts, ManyRipple, solve_many
from railmap.solve.sensitivity import Sensitivity, sensitivities
from railmap.solve.solution import Check, Finding, Lamp, PartResult, Ripple, Solution
from railmap.solve.surge import Surge, surges
from railmap.solve.what_if import OPEN, SHORT, WhatIf, what_if
from railmap.store.files import load, save

__version__ = "0.1.0"

__all__ = [
    "OPEN",
    "SHORT",
    "Accuracy",
    "Board",
    "Bridge",
    "Capacitor",
    "Check",
    "Choke",
    "Converter",
    "Diode",
    "FileError",
    "Finding",
    "Fuse",
    "Known",
    "Lamp",
    "Link",
    "Load",
    "Many",
    "ManyParts",
    "ManyRipple",
    "MapError",
    "Meter",
    "NotYetError",
    "Part",
    "PartResult",
    "PassTransistor",
    "Place",
    "Rail",
    "RailMap",
    "RailmapError",
    "Reading",
    "Regulator",
    "Resistor",
    "Revision",
    "Ripple",
    "Sensitivity",
    "Setup",
    "Solution",
    "Source",
    "Surge",
    "Switch",
    "Unit",
    "UnitError",
    "WhatIf",
    "Winding",
    "Zener",
    "load",
    "save",
    "sensitivities",
    "solve",
    "solve_many",
    "surges",
    "what_if",
]
