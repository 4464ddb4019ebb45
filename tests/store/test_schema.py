"""The JSON Schema that is shipped: up to date, valid, and in agreement with the reader."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from jsonschema import Draft202012Validator
from strategies import maps

import railmap as rm
from railmap.model.kinds import KINDS
from railmap.store import files
from railmap.store.files import dumps, schema

SHIPPED = Path(files.__file__).with_name("railmap.schema.json")
EXAMPLES = sorted((Path(__file__).parents[2] / "example_boards").glob("*.railmap"))
VALIDATOR = Draft202012Validator(schema())


def test_the_shipped_schema_is_up_to_date() -> None:
    fresh = json.dumps(schema(), indent=1) + "\n"
    assert SHIPPED.read_text(encoding="utf-8") == fresh, (
        "write it again: python -c 'import json; from railmap.store.files import schema; "
        "print(json.dumps(schema(), indent=1))' > railmap/store/railmap.schema.json"
    )


def test_it_is_itself_valid() -> None:
    Draft202012Validator.check_schema(json.loads(SHIPPED.read_text(encoding="utf-8")))


@given(maps().map(dumps))
def test_every_map_validates(data: bytes) -> None:
    VALIDATOR.validate(json.loads(data))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_every_example_validates(path: Path) -> None:
    VALIDATOR.validate(json.loads(path.read_bytes()))


def a_map() -> dict[str, Any]:
    m = rm.RailMap(title="Bench divider")
    m.add_board("Main", 160, 100)
    part = rm.Resistor("R1", "RAW", "A", ohms=150, board="Main", place=rm.Place(10, 20, 90))
    m.add(part.with_fitted(160).with_found(236, date="2024-05-17"))
    m.add_rail("A", "+12", label_volts=12)
    m.add_setup(unplugged=["Main"])
    m.add_revision("late", values={"R1": {"ohms": 68}})
    return json.loads(dumps(m))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "else"),
        (("version",), 2),
        (("version",), "1"),
        (("bogus",), 1),
        (("about", "mains_volts"), 0),
        (("boards", 0, "width_mm"), -1),
        (("parts", 0, "kind"), "Flux"),
        (("parts", 0, "ohms"), "150"),
        (("parts", 0, "ohms"), 0),
        (("parts", 0, "bogus"), 1),
        (("parts", 0, "technology"), "carbon"),
        (("parts", 0, "place", "z_mm"), 1),
        (("parts", 0, "found", "ohms", "value"), None),
        (("rails", 0, "node"), None),
        (("setups", 0, "unplugged"), "Main"),
        (("revisions", 0, "name"), None),
        (("revisions", 0, "values", "R1"), 68),
        (("revisions", 0, "values", "R1", "ohms"), "68R"),
    ],
)
def test_schema_and_reader_refuse_alike(path: tuple[str | int, ...], value: object) -> None:
    raw = a_map()
    assert VALIDATOR.is_valid(raw)
    wrong = copy.deepcopy(raw)
    at: Any = wrong
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    assert not VALIDATOR.is_valid(wrong)
    with pytest.raises(rm.FileError):
        files.loads(json.dumps(wrong).encode())


def test_it_knows_every_kind() -> None:
    assert {kind.__name__ for kind in KINDS} <= set(schema()["$defs"])
