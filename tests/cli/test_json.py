"""The JSON of the verbs: its keys are stable, documented, and in SI units."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

import railmap as rm

Run = Callable[..., Result]
Saved = Callable[..., Path]
VERBS = ("rails", "hot", "drift", "check")
HEAD = {"map", "mains_volts", "setup", "revision", "status", "findings"}
CHANGE = {"drift": ["R1=236"]}


def keys_of(data: Any) -> set[str]:
    if isinstance(data, list):
        return set().union(*map(keys_of, data))
    return set(data) if isinstance(data, dict) else set()


JSON_KEYS: dict[str, tuple[set[str], dict[str, set[str]]]] = {
    "rails": (
        HEAD | {"power_in_watts", "power_out_watts", "hottest", "rails"},
        {
            "hottest": {"ref", "what", "ratio", "over"},
            "rails": {
                "node", "name", "order", "boards", "label_volts", "volts", "difference_pct",
                "low_volts", "high_volts", "verdict", "max_volts", "over_limit",
            },
        },
    ),
    "hot": (
        HEAD | {"parts", "unrated"},
        {
            "parts": {
                "ref", "kind", "board", "value", "unit", "state", "watts", "what", "amount",
                "allowed", "amount_unit", "ratio", "over",
            },
        },
    ),
    "drift": (
        HEAD | {"status_before", "changes", "rails", "parts"},
        {
            "rails": {
                "node", "name", "boards", "before_volts", "after_volts", "change_volts",
                "change_pct", "verdict", "max_volts", "over_limit",
            },
            "parts": {
                "ref", "kind", "board", "before_text", "after_text", "before_watts",
                "after_watts", "before_ratio", "after_ratio", "over",
            },
        },
    ),
    "check": (
        HEAD
        | {"ok", "board_count", "part_count", "rail_count"}
        | {"over_parts", "over_rails", "outside_rails"},
        {},
    ),
}  # fmt: skip


@pytest.mark.parametrize("verb", VERBS)
def test_the_keys_of_json_are_stable_and_documented(run: Run, verb: str, islands: Path) -> None:
    result = run(verb, islands, *CHANGE.get(verb, []), "--json")
    data = json.loads(result.stdout)
    outer, inner = JSON_KEYS[verb]
    assert set(data) == outer
    for name, keys in inner.items():
        assert keys_of(data[name]) == keys, name
    assert keys_of(data["findings"]) == {"kind", "sentence", "refs", "nodes"}
    pages = run(verb, "--help").stdout.split("Keys of --json")[1]
    words = set(pages.replace(",", " ").replace(";", " ").replace(":", " ").split())
    assert outer | {"kind", "sentence", "refs", "nodes"} <= words
    assert set().union(*inner.values()) <= words


@pytest.mark.parametrize("verb", VERBS)
def test_json_holds_no_caution_and_no_table(run: Run, verb: str, file: Path) -> None:
    out = run(verb, file, *CHANGE.get(verb, []), "--json").stdout
    assert "permission" not in out
    assert out.isascii()


def test_json_of_rails_is_in_volts_and_watts(run: Run, file: Path) -> None:
    data = json.loads(run("rails", file, "--json").stdout)
    assert (data["map"], data["mains_volts"], data["setup"]) == ("Divider", 230.0, None)
    assert (data["status"], data["findings"]) == ("solved", [])
    # 12 V over 300 ohms, and 10 V over 100 ohms and 100 ohms beside 100 kilohms.
    watts = 12**2 / 300 + 10**2 / (100 + 1 / (1 / 100 + 1 / 100e3))
    assert data["power_in_watts"] == pytest.approx(watts)
    assert data["power_out_watts"] == pytest.approx(watts)
    assert data["hottest"]["ref"] == "R2"
    assert data["hottest"]["ratio"] == pytest.approx(0.64)
    assert [rail["name"] for rail in data["rails"]] == ["minus five", "plus eight"]
    assert data["rails"][1]["volts"] == pytest.approx(8.0)


def test_json_without_figures_holds_null(run: Run, faulty: Path) -> None:
    result = run("rails", faulty, "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 1
    assert data["status"] == "contradiction"
    assert data["power_in_watts"] is data["power_out_watts"] is data["hottest"] is None
    assert {rail["volts"] for rail in data["rails"]} == {None}


@pytest.mark.parametrize("verb", ["rails", "hot"])
def test_json_has_null_for_infinite_stress(run: Run, saved: Saved, verb: str) -> None:
    m = rm.RailMap(ambient_c=200)
    m.add(rm.Source("V1", "RAW", "0V", volts=10))
    m.add(rm.Resistor("R1", "RAW", "0V", ohms=30, rated_watts=5))
    path = saved(m)
    data = json.loads(run(verb, path, "--json").stdout)
    row = data["hottest"] if verb == "rails" else data["parts"][0]
    assert (row["ref"], row["ratio"], row["over"]) == ("R1", None, True)
    assert "\N{INFINITY} %" in run(verb, path).stdout


def test_json_of_check(run: Run, hot_file: Path) -> None:
    result = run("check", hot_file, "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 1
    assert data["ok"] is False
    assert (data["board_count"], data["part_count"], data["rail_count"]) == (2, 9, 2)
    assert (data["over_parts"], data["over_rails"], data["outside_rails"]) == (["R2"], ["A"], [])
