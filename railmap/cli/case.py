"""What every verb is asked with: a map, the mains, a setup; and how it answers in JSON."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any, Final

import click

from railmap.cli.codes import Code
from railmap.cli.output import one_line
from railmap.errors import MapError, UnitError
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.front import solve
from railmap.solve.solution import SOLVED, Solution
from railmap.solve.what_if import WhatIf
from railmap.store.files import load
from railmap.units import parse, show

JSON_EPILOG: Final = """\
\b
Keys of --json, in SI units (volts, watts, ohms, ...), null where there is no figure:
  map, mains_volts, setup, status
  findings: list of kind, sentence, refs, nodes
"""


@dataclasses.dataclass(frozen=True)
class Case:
    """A map, and the mains and setup that a verb was asked about."""

    file: Path
    m: RailMap
    mains_volts: float
    setup: Setup | None

    @classmethod
    def read(cls, file: Path, mains: float | None, setup: str | None) -> Case:
        """Read a map, and find the mains and the setup that are meant.

        Raises
        ------
        FileError, MapError
            If the file cannot be read, or the map keeps no such setup.
        """
        m = load(file)
        if setup is not None and setup not in m.setups:
            known = f"it has {', '.join(m.setups)}" if m.setups else "it keeps none"
            raise MapError(f"there is no setup {setup!r} in the map; {known}")
        kept = None if setup is None else m.setups[setup]
        if mains is None:
            mains = m.mains_volts if kept is None or kept.mains_volts is None else kept.mains_volts
        return cls(file, m, mains, kept)

    def solve(self, change: WhatIf | None = None) -> Solution:
        """Solve the map as it was asked about, with a change if there is one."""
        return solve(self.m, mains_volts=self.mains_volts, setup=self.setup, change=change)

    @property
    def headline(self) -> str:
        """What stands above every table."""
        setup = f", setup {self.setup.name}" if self.setup else ""
        title = one_line(self.m.title) or self.file.name
        return f"{title}: forecast at {show(self.mains_volts, 'V')} mains{setup}"

    def head(self, solution: Solution) -> dict[str, Any]:
        """Return the keys that the JSON of every verb begins with."""
        return {
            "map": self.m.title, "mains_volts": self.mains_volts,
            "setup": self.setup.name if self.setup else None, "status": solution.status,
            "findings": [dataclasses.asdict(f) for f in solution.findings],
        }  # fmt: skip


def read_volts(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    """Read volts as the bench writes them."""
    try:
        return None if value is None else parse(value, "V")
    except UnitError as error:
        raise click.BadParameter(str(error), ctx, param) from None


file_argument = click.argument("file", type=click.Path(path_type=Path))
mains_option = click.option(
    "--mains", callback=read_volts, metavar="VOLTS",
    help="Mains volts rms. Otherwise those of the setup, or else the design mains.",
)  # fmt: skip
setup_option = click.option("--setup", metavar="NAME", help="A setup that is kept in the map.")
as_json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of a table; its keys are below."
)


def keys(*lines: str) -> str:
    """Return the part of a verb's help that lists its JSON keys."""
    return JSON_EPILOG + "".join(f"  {line}\n" for line in lines)


def exit_code(*solutions: Solution) -> int:
    """Return the exit code for what was solved."""
    return Code.DONE if all(s.status == SOLVED for s in solutions) else Code.UNSOLVED
