"""The exit codes of the command."""

from enum import IntEnum


class Code(IntEnum):
    """How the command ended."""

    DONE = 0
    UNSOLVED = 1
    MISUSE = 2
    NO_FILE = 3
    NO_WINDOW = 4
    FAULT = 5
    STOPPED = 130
