"""How the window is laid out, as bytes to keep between two runs."""

from __future__ import annotations

import base64
import binascii
import json
from dataclasses import dataclass

from PySide6.QtCore import QByteArray

VERSION = 1


@dataclass(frozen=True)
class Shape:
    """What is kept beside place and size of the window.

    Attributes
    ----------
    docks : QByteArray
        Order and sizes of the panels, as Qt writes them.
    sheet : str
        Title of the worksheet that is seen.
    """

    docks: QByteArray
    sheet: str

    def pack(self) -> QByteArray:
        """Return it as bytes."""
        docks = base64.b64encode(self.docks.data()).decode("ascii")
        return QByteArray(json.dumps([VERSION, docks, self.sheet]).encode("utf-8"))


def unpack(data: QByteArray) -> Shape | None:
    """Return what was kept; None for bytes that say nothing, so that the first layout stands."""
    try:
        version, docks, sheet = json.loads(bytes(data.data()))
        if version != VERSION or not isinstance(sheet, str):
            return None
        return Shape(QByteArray(base64.b64decode(docks)), sheet)
    except (ValueError, TypeError, binascii.Error):
        return None
