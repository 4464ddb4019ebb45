"""Saves and autosaves one map after another until it is killed; a program for a test.

It tells on its output when each write begins and when it has ended.
"""

import sys
from itertools import count
from pathlib import Path

import railmap as rm
from railmap.store.autosave import open_slot
from railmap.store.files import save


def tell(word: str, which: int | str) -> None:
    print(word, which, flush=True)  # noqa: T201


def version(number: int) -> rm.RailMap:
    """A map that differs from each of its neighbours in length and in every part."""
    m = rm.RailMap(title=f"Version {number}")
    for place in range(20 + 97 * number % 240):
        m.add(rm.Resistor(f"R{place}", f"N{place}", "0V", ohms=number + 1, notes="x" * 40))
    return m


def main(map_file: Path, slots: Path, first: int) -> None:
    slot = open_slot(slots)
    tell("slot", slot.folder.name)
    for number in count(first):
        m = version(number)
        tell("save", number)
        save(m, map_file)
        tell("saved", number)
        tell("keep", number)
        slot.write(m, map_file)
        tell("kept", number)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
