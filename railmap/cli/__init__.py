"""The command line: forecasts as tables or JSON, the window, and the floor as a picture file.

The window and the drawing come from outside, as callables, so that no verb loads what it does
not need. Every refusal is one sentence on the error output and an exit code.
"""

from railmap.cli.command import build
from railmap.cli.screen import NoWindowError, window_libraries

__all__ = ["NoWindowError", "build", "window_libraries"]
