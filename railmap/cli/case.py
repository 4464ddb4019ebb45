"""What every verb is asked with: a map, mains, setup and revision; and how it answers in JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any, Final

import click

from railmap.bench.revisions import fit, revision_named
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
  map, mains_volts, setup, revision, status
  findings: list of kind, sentence, refs, nodes
"""


@dataclasses.dataclass(frozen=True)
class Asked:
    """What was written behind ``--mains``, ``--setup`` and ``--revision``, if anything."""

    mains: float | None
    setup: str | None
    revision: str | None


@dataclasses.dataclass(frozen=True)
class Case:
    """A map, and the mains, setup and revision that a verb was asked about."""

    file: Path
    m: RailMap
    mains_volts: float
    setup: Setup | None
    revision: str | None

    @classmethod
    def read(cls, file: Path, asked: Asked) -> Case:
        """Read a map, fit a revision to it, and find the mains and the setup that are meant.

        Raises
        ------
        FileError, MapError
            If the file cannot be read, or the map keeps no such setup or revision.
        """
        m, mains, setup, revision = load(file), asked.mains, asked.setup, asked.revision
        if revision is not None:
            m.change(fit(m, revision_named(m, revision).name))
        if setup is not None and setup not in m.setups:
            known = f"it has {', '.join(m.setups)}" if m.setups else "it keeps none"
            raise MapError(f"there is no setup {setup!r} in the map; {known}")
        kept = None if setup is None else m.setups[setup]
        if mains is None:
            mains = m.mains_volts if kept is None or kept.mains_volts is None else kept.mains_volts
        return cls(file, m, mains, kept, revision)

    def solve(self, change: WhatIf | None = None) -> Solution:
        """Solve the map as it was asked about, with a change if there is one."""
        return solve(self.m, mains_volts=self.mains_volts, setup=self.setup, change=change)

    @property
    def headline(self) -> str:
        """What stands above a table of a forecast."""
        return self._headed(f"forecast at {show(self.mains_volts, 'V')} mains")

    @property
    def cold_headline(self) -> str:
        """What stands above a table that the mains has no part in."""
        return self._headed("power off")

    def _headed(self, what: str) -> str:
        setup = f", setup {self.setup.name}" if self.setup else ""
        setup += f", revision {self.revision}" if self.revision else ""
        return f"{one_line(self.m.title) or self.file.name}: {what}{setup}"

    def head(self, solution: Solution) -> dict[str, Any]:
        """Return the keys that the JSON of every verb begins with."""
        return {
            "map": self.m.title, "mains_volts": self.mains_volts,
            "setup": self.setup.name if self.setup else None, "revision": self.revision,
            "status": solution.status,
            "findings": [dataclasses.asdict(f) for f in solution.findings],
        }  # fmt: skip


def read_volts(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    """Read volts as the bench writes them."""
    try:
        return None if value is None else parse(value, "V")
    except UnitError as error:
        raise click.BadParameter(str(error), ctx, param) from None


file_argument = click.argument("file", type=click.Path(path_type=Path))
_mains_option = click.option(
    "--mains", callback=read_volts, metavar="VOLTS",
    help="Mains volts rms. Otherwise those of the setup, or else the design mains.",
)  # fmt: skip
_setup_option = click.option("--setup", metavar="NAME", help="A setup that is kept in the map.")
_revision_option = click.option(
    "--revision", metavar="NAME",
    help="A revision that is kept in the map, in place of the one that is fitted.",
)  # fmt: skip
as_json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of a table; its keys are below."
)


def asked_options(verb: Callable[..., int]) -> Callable[..., int]:
    """Give a verb the options that say how the map is powered and fitted, as one argument."""

    @_mains_option
    @_setup_option
    @_revision_option
    @wraps(verb)
    def asked_verb(
        mains: float | None, setup: str | None, revision: str | None, **more: Any
    ) -> int:
        return verb(asked=Asked(mains, setup, revision), **more)

    return asked_verb


def unpowered_options(verb: Callable[..., int]) -> Callable[..., int]:
    """Give a verb the options that say how the map is plugged and fitted, as one argument."""

    @_setup_option
    @_revision_option
    @wraps(verb)
    def asked_verb(setup: str | None, revision: str | None, **more: Any) -> int:
        return verb(asked=Asked(None, setup, revision), **more)

    return asked_verb


def keys(*lines: str) -> str:
    """Return the part of a verb's help that lists its JSON keys."""
    return JSON_EPILOG + "".join(f"  {line}\n" for line in lines)


def exit_code(*solutions: Solution) -> int:
    """Return the exit code for what was solved."""
    return Code.DONE if all(s.status == SOLVED for s in solutions) else Code.UNSOLVED
