"""What is lit: the selection, its feed path, and everyone it feeds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from railmap.bench.feeds import NOTHING, Feed
from railmap.ui.ladder.shapes import Key


@dataclass(frozen=True)
class Lit:
    """What is selected, and its feed path and what it feeds."""

    picked: Key = ("", "")
    feed: Feed = NOTHING

    def state(self, keys: Iterable[Key]) -> str:
        """Return ``picked``, ``path``, ``fed``, ``dim``, or ``plain`` where nothing is lit."""
        if self.picked[0] not in ("part", "rail"):
            return "plain"
        keys = [*keys]
        if self.picked in keys:
            return "picked"
        feed = self.feed
        parts = {key for kind, key in keys if kind == "part"}
        nodes = {key for kind, key in keys if kind == "rail"}
        if not parts.isdisjoint(feed.path_refs) or not nodes.isdisjoint(feed.path_nodes):
            return "path"
        if not parts.isdisjoint(feed.fed_refs) or not nodes.isdisjoint(feed.fed_nodes):
            return "fed"
        return "dim"
