"""The file format: reading back what was written, and the sentence for each mistake."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from strategies import maps

import railmap as rm
from railmap.errors import FileError
from railmap.model.kinds import KINDS
from railmap.store import files
from railmap.store.files import dumps, load, loads, save

RESISTOR = {"kind": "Resistor", "ref": "R102", "a": "RAW", "b": "A", "ohms": 82.0}


def file_of(**tables: Any) -> bytes:
    return json.dumps({"format": "railmap", "version": 1, **tables}).encode()


def refusal(data: bytes, name: str = "old set.railmap") -> str:
    with pytest.raises(FileError) as refused:
        loads(data, name)
    start, colon, rest = str(refused.value).partition(": ")
    assert start.startswith(name)
    return rest if start == name and colon else str(refused.value)


@given(maps())
def test_what_is_read_back_equals_what_was_written(m: rm.RailMap) -> None:
    again = loads(dumps(m))
    assert again == m
    assert again.document() == m.document()
    assert dumps(again) == dumps(m)


def test_a_file_keeps_every_script_and_every_digit(tmp_path: Path) -> None:
    m = rm.RailMap(title="Röhrenradio 『電源』 №7", notes="a\tb\nc \u2028 \0 🎛")
    m.add(rm.Resistor("R1", "Ω", "+12 Вольт", ohms=0.1 + 0.2).with_found(1 / 3, source="ohmmètre"))
    path = tmp_path / "Gerät ü.railmap"
    save(m, path)
    assert load(path) == m
    assert "Röhrenradio 『電源』 №7" in path.read_text(encoding="utf-8")


def test_format_and_version_stand_first() -> None:
    assert dumps(rm.RailMap()).startswith(b'{\n "format": "railmap",\n "version": 1')


def test_a_byte_order_mark_is_no_harm() -> None:
    assert loads(b"\xef\xbb\xbf" + dumps(rm.RailMap("x"))) == rm.RailMap("x")


def part(**fields: Any) -> bytes:
    return file_of(parts=[{**RESISTOR, "ref": "R1"}, {**RESISTOR, **fields}])


def part_without(field: str) -> bytes:
    return file_of(parts=[{name: value for name, value in RESISTOR.items() if name != field}])


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        # wrong type
        (part(ohms="82R"), "parts[1] R102: ohms must be a number, is '82R'"),
        (part(ohms=True), "parts[1] R102: ohms must be a number, is true"),
        (part(rated_watts=[]), "parts[1] R102: rated_watts must be a number or nothing, is a list"),
        (part(ref=7), "parts[1]: ref must be text, is 7"),
        (part(a=None), "parts[1] R102: a must be text, is nothing"),
        (part(place=7), "parts[1] R102: place must be an object or nothing, is 7"),
        (part(place=None, notes=3), "parts[1] R102: notes must be text, is 3"),
        (part(fitted=[]), "parts[1] R102: fitted must be an object, is a list"),
        (part(fitted={"ohms": 7}), "parts[1] R102, fitted 'ohms': it must be an object, is 7"),
        (file_of(parts={}), "parts must be a list, is an object"),
        (file_of(parts=[7]), "parts[0]: it must be an object, is 7"),
        (file_of(boards=[None]), "boards[0]: it must be an object, is nothing"),
        (file_of(about=None), "about must be an object, is nothing"),
        (
            file_of(rails=[{"node": "A", "order": 1.5}]),
            "rails[0] A: order must be a whole number, is 1.5",
        ),
        (
            file_of(setups=[{"unplugged": "Main"}]),
            "setups[0]: unplugged must be a list of texts, is 'Main'",
        ),
        (
            file_of(revisions=[{"name": "late", "values": []}]),
            "revisions[0] late: values must be an object, is a list",
        ),
        (
            file_of(revisions=[{"name": "late", "values": {"R1": 68}}]),
            "revisions[0] late, values: 'R1' must be an object, is 68",
        ),
        (
            file_of(revisions=[{"name": "late", "values": {"R1": {"ohms": "68R"}}}]),
            "revisions[0] late, values, 'R1': 'ohms' must be a number, is '68R'",
        ),
        # out of range
        (part(ohms=-82), "parts[1] R102: ohms must be above 0, is -82"),
        (part(ohms=0.0), "parts[1] R102: ohms must be above 0, is 0"),
        (
            part(tolerance_pct=-1),
            "parts[1] R102: tolerance_pct must be at least 0 and at most 100, is -1",
        ),
        (part(found={"ohms": {"value": 0}}), "parts[1] R102: found ohms must be above 0, is 0"),
        (
            part(place={"x_mm": 1, "y_mm": 2, "turn": 45}),
            "parts[1] R102, place: turn must be a multiple of 90 degrees, is 45",
        ),
        (file_of(about={"mains_volts": 0}), "about: mains_volts must be above 0, is 0"),
        (
            file_of(boards=[{"name": "Main", "width_mm": 160, "height_mm": 0}]),
            "boards[0] Main: height_mm must be above 0, is 0",
        ),
        (
            part(technology="carbon"),
            "parts[1] R102: technology must be empty, carbon composition, carbon film, fusible, "
            "metal film, metal oxide or wirewound, is 'carbon'",
        ),
        # numbers that no float can hold
        (
            part(ohms=10**400),
            "parts[1] R102: ohms must be at most 1.8e+308 either way, "
            "is a number with too many digits",
        ),
        (
            file_of(rails=[{"node": "A", "order": 2**53 + 1}]),
            "rails[0] A: order must be at most 9007199254740992 either way, is 9007199254740993",
        ),
        (
            b'{"format": "railmap", "version": 1, "about": {"ambient_c": -1e999}}',
            "about: ambient_c must be a finite number, is -inf",
        ),
        # unknown kind, unknown field, missing field
        (part(kind="Resistr"), "parts[1] R102: there is no kind 'Resistr', but 'Resistor'"),
        (part(kind="Flux"), "parts[1] R102: there is no kind 'Flux'"),
        (part(kind=3), "parts[1] R102: there is no kind 3"),
        (part_without("kind"), "parts[0] R102: kind is missing"),
        (part(bogus=1), "parts[1] R102: it has no field 'bogus'"),
        (part(ohm=1), "parts[1] R102: it has no field 'ohm', but 'ohms'"),
        (part(**{"x" * 99: 1}), f"parts[1] R102: it has no field '{'x' * 57}...'"),
        (part(place={"x": 1}), "parts[1] R102, place: it has no field 'x'"),
        (
            part(found={"ohms": {"volts": 1}}),
            "parts[1] R102, found 'ohms': it has no field 'volts'",
        ),
        (file_of(bogus=1), "it has no field 'bogus'"),
        (part_without("ohms"), "parts[0] R102: ohms is missing"),
        (part(place={"x_mm": 1}), "parts[1] R102, place: y_mm is missing"),
        (part(found={"ohms": {}}), "parts[1] R102, found 'ohms': value is missing"),
        # names
        (part(ref=""), "parts[1]: the reference must not be empty"),
        (part(ref="R1\n"), r"parts[1]: the reference 'R1\n' must not begin or end with a blank"),
        (part(b=""), "parts[1] R102: node b must not be empty"),
        (
            part(ref="R" * 200),
            f"parts[1] {'R' * 37}...: the reference is longer than 120 characters",
        ),
        (part(notes="\ud800"), "parts[1] R102: notes holds a character that cannot be saved"),
        (file_of(about="\ud800"), r"about must be an object, is '\ud800'"),
        (
            part(fitted={"\ud800": {"value": 1}}),
            r"parts[1] R102: fitted '\ud800' is no value of a Resistor",
        ),
        # the fields of a part against each other
        (
            part(fitted={"notes": {"value": 1}}),
            "parts[1] R102: fitted 'notes' is no value of a Resistor",
        ),
        (part(rated_c=70, zero_c=70), "parts[1] R102: zero_c must be above rated_c (70), is 70"),
        # items against each other
        (part(ref="R1"), "parts[1] R1: parts[0] has the same ref"),
        (part(board="Zz"), "parts[1] R102: it is on board 'Zz', which the map does not have"),
        (
            file_of(revisions=[{"name": "late", "values": {"R9": {"ohms": 68}}}]),
            "revisions[0] late: there is no part 'R9'",
        ),
        (file_of(setups=[{"unplugged": ["Zz"]}]), "setups[0] as used: there is no board 'Zz'"),
        (
            file_of(rails=[{"node": "A", "name": "+5"}, {"node": "B", "name": "+5"}]),
            "rails[1] B: the name '+5' is taken by the rail on node 'A'",
        ),
        # the head
        (
            file_of(version=2, wires=[]),
            "version is 2, and this program reads up to 1: open it with a newer railmap",
        ),
        (file_of(version=0), "version must be a whole number from 1, is 0"),
        (file_of(version="1"), "version must be a whole number from 1, is '1'"),
        (file_of(version=True), "version must be a whole number from 1, is true"),
        (b'{"format": "railmap"}', "version must be a whole number from 1, is nothing"),
    ],
)
def test_a_mistake_is_told_with_its_place(data: bytes, sentence: str) -> None:
    assert refusal(data) == sentence


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "old set.railmap is empty"),
        (b" \n", "old set.railmap is empty"),
        (b"PK\x03\x04", "expecting value at line 1, column 1"),
        (b'{"format": "railmap",\n "version" 1}', "expecting ':' delimiter at line 2, column 12"),
        (b'{"format": "railmap', "unterminated string starting at line 1, column 12"),
        (b'{"a": "\x01"}', "invalid control character at line 1, column 8"),
        (dumps(rm.RailMap()) + b"{}", "extra data at line 6, column 1"),
        (b"[]", 'it does not say "format": "railmap"'),
        (b'{"format": "else", "version": 1}', 'it does not say "format": "railmap"'),
        # UTF-8 throughout (RFC 8259, section 8.1)
        (b'{"format": "railmap\xe4"}', "byte 19 is not UTF-8 text"),
        ('{"format": "railmap"}'.encode("utf-16"), "byte 0 is not UTF-8 text"),
        # neither is a number (RFC 8259, section 6)
        (b'{"format": "railmap", "version": NaN}', "NaN is no number in JSON"),
        (b'{"format": "railmap", "version": -Infinity}', "-Infinity is no number in JSON"),
        (b"9" * 5000, "it holds a number with too many digits"),
        # names should be unique (RFC 8259, section 4)
        (b'{"ref": "R1", "ohms": 1, "ohms": 2}', "R1: 'ohms' stands twice in one object"),
        (b'{"a": {}, "b": 1, "a": {}}', "'a' stands twice in one object"),
        (b"[" * 100_000, "its text is nested too deeply"),
        (b'{"a":' * 100_000, "its text is nested too deeply"),
    ],
)
def test_what_is_no_railmap_file_is_told_so(data: bytes, sentence: str) -> None:
    said = refusal(data)
    assert said.removeprefix("old set.railmap is not a railmap file: ") == sentence


def test_nesting_that_json_allows_is_no_harm() -> None:
    deep = b'{"format": "railmap", "version": 1, "about": ' + b"[" * 500 + b"]" * 500 + b"}"
    assert refusal(deep) == "about must be an object, is a list"


def test_every_kind_can_be_missing_a_field() -> None:
    for kind in KINDS:
        raw = {"kind": kind.__name__, "ref": "X1"}
        missing = kind.__struct_fields__[1]
        assert refusal(file_of(parts=[raw])) == f"parts[0] X1: {missing} is missing"


def test_the_name_of_a_file_is_told_on_one_line(tmp_path: Path) -> None:
    with pytest.raises(FileError) as refused:
        load(tmp_path / "a\nb.railmap")
    assert str(refused.value).isprintable()


def test_a_file_that_cannot_be_read_is_told_so(tmp_path: Path) -> None:
    with pytest.raises(FileError) as refused:
        load(tmp_path / "none.railmap")
    assert (
        str(refused.value) == f"{tmp_path}/none.railmap cannot be read: no such file or directory"
    )
    with pytest.raises(FileError, match="cannot be read: it is not a file"):
        load(tmp_path)
    with pytest.raises(FileError, match="cannot be read: embedded null byte"):
        load("a\0b")


def test_a_file_too_large_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "big.railmap"
    save(rm.RailMap(), path)
    monkeypatch.setattr(files, "MAX_BYTES", path.stat().st_size)
    load(path)
    monkeypatch.setattr(files, "MAX_BYTES", path.stat().st_size - 1)
    with pytest.raises(FileError, match=r"big\.railmap is larger than 0 MiB"):
        load(path)


def test_opening_a_map_reads_no_other_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.railmap"
    path.write_bytes(file_of(about={"notes": "file:///etc/passwd"}, boards=[
        {"name": "../../etc/passwd", "width_mm": 1, "height_mm": 1, "notes": "!!python/exec"}
    ]))  # fmt: skip
    read: list[Path] = []
    real = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda self: read.append(self) or real(self))
    monkeypatch.setattr("builtins.open", lambda *_: pytest.fail("opened another file"))
    assert list(load(path).boards) == ["../../etc/passwd"]
    assert read == [path]
