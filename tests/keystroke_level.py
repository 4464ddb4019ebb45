"""How long hands need at a keyboard, by the keystroke-level model.

S. K. Card, T. P. Moran and A. Newell, "The Keystroke-Level Model for User Performance Time with
Interactive Systems", Communications of the ACM 23(7), 1980: a task of an expert without errors
takes the sum of its operators. The values are from memory. It is a calculation on what the test
typed, no measurement: nobody sat at the table with a watch.
"""

from dataclasses import dataclass

KEY_S = 0.28
"""A key by an average typist who is no secretary (about 40 words a minute)."""
SLOW_KEY_S = 0.5
"""A key where letters have no sense, as references and values have little."""
MIND_S = 1.35
"""Making up one's mind: here finding a cell on paper, or comparing a proposal with it."""
HAND_S = 0.4
"""Moving the hands to the keyboard."""


@dataclass(frozen=True)
class Estimate:
    """Keys pressed, cells read from paper, and proposals taken; seconds that follow from them."""

    strokes: int
    cells: int
    taken: int

    def seconds(self, key: float = KEY_S, looked_at: bool = True) -> float:
        """Return the time, with or without a look at each proposal beside the paper."""
        minds = self.cells + self.taken * looked_at
        return HAND_S + self.strokes * key + minds * MIND_S

    def __str__(self) -> str:
        ways = {
            "least, proposals taken unseen": self.seconds(looked_at=False),
            "each proposal looked at": self.seconds(),
            "and typed as slowly as letters without sense": self.seconds(SLOW_KEY_S),
        }
        minutes = ", ".join(f"{time / 60:.1f} min ({how})" for how, time in ways.items())
        said = f"{self.strokes} keys, {self.cells} cells typed, {self.taken} proposals taken"
        return f"{said}: {minutes}; estimated, not measured"
