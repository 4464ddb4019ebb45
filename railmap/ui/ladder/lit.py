"""What is lit: the selection, its feed path, and everyone it feeds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from railmap.bench.feeds import NOTHING, Feed
from railmap.ui.ladder.shapes import Key


@dataclass(frozen=True)
class Lit:
    """What is selected, one thing or several parts, with its feed path and what it feeds."""

    picked: tuple[Key, ...] = ()
    feed: Feed = NOTHING

    def state(self, keys: Iterable[Key]) -> str:
        """Return ``picked``, ``path``, ``fed``, ``dim``, or ``plain`` where nothing is lit."""
        if not any(kind in ("part", "rail") for kind, _ in self.picked):
            return "plain"
        keys = [*keys]
        if not set(self.picked).isdisjoint(keys):
            return "picked"
        feed = self.feed
        parts = {key for kind, key in keys if kind == "part"}
        nodes = {key for kind, key in keys if kind == "rail"}
        if not parts.isdisjoint(feed.path_refs) or not nodes.isdisjoint(feed.path_nodes):
            return "path"
        if not parts.isdisjoint(feed.fed_refs) or not nodes.isdisjoint(feed.fed_nodes):
            return "fed"
        return "dim"
