"""How one reader writes figures, as one thing to hand on: to views, tables and sentences."""

import re
from collections.abc import Iterable
from typing import Final, NamedTuple

from railmap.units import DecimalSign, code, parse, show

_QUOTED: Final = r"""'.*?'(?!\w)|".*?"(?!\w)"""
_FIGURE: Final = r"[-+\u2212]?[0-9]+\.[0-9]+(?![0-9]|\.\w)\w*"
_IN_WORDS: Final = re.compile(rf"(?<![^\s(])(?:{_QUOTED}|{_FIGURE})")


class Figures(NamedTuple):
    """How one reader writes figures: what :mod:`railmap.units` does, with one decimal sign.

    It is handed to whatever shows or reads figures, as a theme is handed to what paints.

    Parameters
    ----------
    decimal : {".", ","}
        The decimal sign.

    Examples
    --------
    >>> german = Figures(",")
    >>> german.show(12.5, "V"), german.code(12.5, "V"), german.parse("12,5 V"), german.sign("1.50")
    ('12,5 V', '12,5V', 12.5, '1,50')
    """

    decimal: DecimalSign = "."

    def show(self, value: float, unit: str = "", digits: int = 3) -> str:
        """Write a value for reading; see :func:`railmap.units.show`."""
        return show(value, unit, digits, self.decimal)

    def code(self, value: float, unit: str) -> str:
        """Write a value the short way; see :func:`railmap.units.code`."""
        return code(value, unit, self.decimal)

    def parse(self, text: str, unit: str = "") -> float:
        """Read a value; see :func:`railmap.units.parse`."""
        return parse(text, unit, self.decimal)

    def sign(self, figures: str) -> str:
        """Put the decimal sign into figures that were written with a point."""
        return figures.replace(".", self.decimal)

    def words(self, sentence: str, names: Iterable[str] = ()) -> str:
        """Put the decimal sign into a sentence whose figures were written with a point.

        What stands in quotes stays, and so do figures that belong to a longer word or number.

        Parameters
        ----------
        sentence : str
            For example the reason why something was refused.
        names : iterable of str
            Names in it that stay as they are.

        Examples
        --------
        >>> Figures(",").words("'1.5' on P1.3 must be above 0.5, is -1.25; 5.1 too.", ["5.1"])
        "'1.5' on P1.3 must be above 0,5, is -1,25; 5.1 too."
        """
        if self.decimal == "." or "." not in sentence:
            return sentence
        kept = {word for name in names for word in name.split()}

        def signed(found: re.Match[str]) -> str:
            text = found[0]
            return text if text[0] in "'\"" or text in kept else self.sign(text)

        return _IN_WORDS.sub(signed, sentence)


POINT: Final = Figures()
"""Figures with a point, as files and the command line have them."""
