"""The exceptions of railmap: one base, one clear sentence each."""


class RailmapError(Exception):
    """Anything railmap refuses; its text is one sentence for the person at the bench."""


class UnitError(RailmapError):
    """A written value that cannot be read, or can be read in more than one way.

    Parameters
    ----------
    message : str
        One sentence that says what was written and why it is refused.
    readings : tuple of str
        Spellings to offer instead, each readable and each meaning one thing; empty when the
        text means nothing at all.

    Examples
    --------
    >>> UnitError("'10m' could be two things", ("0R01", "10M")).readings
    ('0R01', '10M')
    """

    readings: tuple[str, ...]

    def __init__(self, message: str, readings: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.readings = readings


class MapError(RailmapError):
    """A map, part, rail, board or name that cannot be."""


class FileError(RailmapError):
    """A file that cannot be read or written."""


class NotYetError(RailmapError):
    """A law that this version does not compute."""
