"""Every command of the window, with its icon, key and tip."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QToolBar, QWidget

from railmap.bench.part_columns import KIND_WORDS
from railmap.ui.canvas.commands import FloorCommands
from railmap.ui.drawer import SHEETS
from railmap.ui.faces import COLOURINGS
from railmap.ui.icons import icon
from railmap.ui.theme import Theme

Keys = QKeySequence.StandardKey


@dataclass(frozen=True)
class Command:
    """A command: its name in code, text, icon, key and tip."""

    name: str
    text: str
    icon: str = ""
    keys: str | QKeySequence.StandardKey | None = None
    tip: str = ""


COMMANDS = (
    Command("new", "&New map", "new", Keys.New, "Begin a new map"),
    Command("open", "&Open…", "open", Keys.Open, "Open a map from a file"),
    Command("save", "&Save", "save", Keys.Save, "Save the map"),
    Command("save_as", "Save &as…", "save-as", "Ctrl+Shift+S", "Save the map to another file"),
    Command(
        "picture",
        "Save the &floor as a picture…",
        "picture",
        "Ctrl+E",
        "Save the floor as PNG, SVG or PDF",
    ),
    Command(
        "picture_ladder",
        "Save the &ladder as a picture…",
        "picture",
        "Ctrl+Shift+E",
        "Save the ladder as PNG, SVG or PDF",
    ),
    Command("print", "&Print the floor…", "print", Keys.Print, "Print the floor on one page"),
    Command(
        "print_ladder",
        "Print the ladder…",
        "print",
        "Ctrl+Shift+P",
        "Print the ladder on one page",
    ),
    Command("close", "&Close window", "", "Ctrl+W"),
    Command("undo", "&Undo", "undo", Keys.Undo, "Take back the last edit"),
    Command("redo", "&Redo", "redo", Keys.Redo, "Do the edit again"),
    Command("delete", "&Delete", "delete", Keys.Delete, "Take what is selected out of the map"),
    Command("turn", "Turn &half round", "rotate", "Ctrl+T", "Put its first pin on the other side"),
    Command("end_drift", "All values &back", "reset", "Ctrl+B", "End every drift that is tried"),
    Command("add_board", "Add a &board", "board", "Ctrl+Shift+B", "Add a board to the floor"),
    Command("find", "&Find…", "find", "Ctrl+F", "Find a part, rail or board"),
    Command("find_next", "Find the &next", "", "Ctrl+G", "Go to the next match"),
    Command("find_before", "Find the one &before", "", "Ctrl+Shift+G", "Go to the match before"),
    Command(
        "fit",
        "Show &all",
        "fit",
        "Ctrl+0",
        "Fit the whole floor, or the ladder where the keyboard is on it",
    ),
    Command("zoom_in", "Zoom &in", "zoom-in", Keys.ZoomIn),
    Command("zoom_out", "Zoom &out", "zoom-out", Keys.ZoomOut),
    Command("zoom_to", "Zoom to what is &selected", "zoom-to", "Ctrl+J"),
    Command("ladder", "La&dder", "ladder", "Ctrl+L", "Show the ladder or put it away"),
    Command("go_floor", "Go to the floo&r", "", "Ctrl+Shift+F", "Give the keyboard to the floor"),
    Command(
        "go_ladder", "Go to the la&dder", "", "Ctrl+Shift+L", "Give the keyboard to the ladder"
    ),
    Command("go_card", "Go to the &card", "", "Ctrl+Shift+K", "Give the keyboard to the card"),
    Command("hottest", "&Hottest part", "hot", "Ctrl+H", "Select the most loaded part"),
    Command("theme", "&Light or dark", "theme", "Ctrl+D", "Change between light and dark"),
)
TOGGLES = ("ladder",)
FREQUENT_KINDS = ("Source", "Resistor", "Load")


class Commands:
    """The actions of one window.

    Parameters
    ----------
    owner : QWidget
        The window; it owns the actions.
    theme : Theme
        Ink of the icons.
    """

    def __init__(self, owner: QWidget, theme: Theme) -> None:
        self.actions: dict[str, QAction] = {}
        self._icons: dict[str, str] = {}
        for command in COMMANDS:
            self._add(owner, command)
        for number, (kind, word) in enumerate(KIND_WORDS.items()):
            keys = f"Ctrl+{number + 1}" if number < 9 else None
            name = f"place {kind}"
            tip = f"Place: {word.lower()}"
            self._add(owner, Command(name, word, f"kind-{kind.lower()}", keys, tip))
            self.actions[name].setCheckable(True)
        for number, title in enumerate(SHEETS):
            tip = f"Go to the worksheet {title}"
            self._add(owner, Command(f"sheet {title}", title, "", f"Alt+{number + 1}", tip))
        self.colours = QActionGroup(owner)
        for colouring in COLOURINGS:
            name = f"colour {colouring.word}"
            self._add(owner, Command(name, colouring.word, "", "", colouring.title))
            self.colours.addAction(self.actions[name])
        for name in (*TOGGLES, *(f"colour {colouring.word}" for colouring in COLOURINGS)):
            self.actions[name].setCheckable(True)
        self.set_theme(theme)

    def __getitem__(self, name: str) -> QAction:
        return self.actions[name]

    def _add(self, owner: QWidget, command: Command) -> None:
        action = QAction(command.text, owner)
        if command.keys:
            action.setShortcut(QKeySequence(command.keys))
        tip = command.tip or command.text.replace("&", "")
        keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
        action.setToolTip(f"{tip} ({keys})" if keys else tip)
        action.setData(command.name)
        self.actions[command.name] = action
        self._icons[command.name] = command.icon
        owner.addAction(action)

    def set_theme(self, theme: Theme) -> None:
        """Draw the icons in another ink."""
        for name, file in self._icons.items():
            if file:
                self.actions[name].setIcon(icon(file, theme.ink, theme.soft_ink))

    def fill_menus(
        self, bar: QMenuBar, recent: QMenu, examples: QMenu, revisions: QMenu, floor: FloorCommands
    ) -> None:
        """Put the actions into a menu bar."""
        file = bar.addMenu("&File")
        self._put(file, "new", "open")
        file.addMenu(recent)
        file.addMenu(examples)
        file.addSeparator()
        self._put(file, "save", "save_as", "", "picture", "picture_ladder", "", "print",
                  "print_ladder")  # fmt: skip
        file.addSeparator()
        self._put(file, "close")
        self._fill_edit(bar.addMenu("&Edit"), revisions, floor)
        place = bar.addMenu("&Place")
        self._put(place, "add_board", "", *(f"place {kind}" for kind in KIND_WORDS))
        view = bar.addMenu("&View")
        self._put(view, "fit", "zoom_in", "zoom_out", "zoom_to", "", "ladder", "go_floor",
                  "go_ladder", "go_card")  # fmt: skip
        sheets = view.addMenu("&Worksheets")
        self._put(sheets, *(f"sheet {title}" for title in SHEETS))
        view.addSeparator()
        colours = view.addMenu("Colour &by")
        self._put(colours, *(f"colour {colouring.word}" for colouring in COLOURINGS))
        self._put(view, "hottest", "", "theme")

    def _fill_edit(self, edit: QMenu, revisions: QMenu, floor: FloorCommands) -> None:
        self._put(edit, "undo", "redo", "")
        own = floor.actions
        edit.addActions([own[n] for n in ("cut", "copy", "paste", "repeat")])
        self._put(edit, "delete", "")
        edit.addActions([own[n] for n in ("select_all", "turn_right", "turn_left")])
        self._put(edit, "turn")
        line_up = edit.addMenu("&Line up and space out")
        line_up.addActions([a for n, a in own.items() if n.startswith(("line", "spread"))])
        grid = edit.addMenu("&Grid")
        grid.addActions(floor.grids.actions())
        edit.addAction(own["name_node"])
        self._put(edit, "", "end_drift")
        edit.addMenu(revisions)
        self._put(edit, "", "find", "find_next", "find_before")

    def fill_bar(self, bar: QToolBar) -> None:
        """Put the frequent actions into a tool bar."""
        for name in ("new", "open", "save", "", "undo", "redo", "", "add_board"):
            bar.addSeparator() if not name else bar.addAction(self.actions[name])
        for kind in FREQUENT_KINDS:
            bar.addAction(self.actions[f"place {kind}"])

    def more_kinds(self, parent: QWidget) -> QMenu:
        """Return a menu of the kinds that the tool bar does not show."""
        menu = QMenu(parent)
        self._put(menu, *(f"place {kind}" for kind in KIND_WORDS if kind not in FREQUENT_KINDS))
        return menu

    def _put(self, menu: QMenu, *names: str) -> None:
        for name in names:
            menu.addSeparator() if not name else menu.addAction(self.actions[name])
