"""The verbs about what moves: ripple, surge and sweeps."""

import json
from collections.abc import Callable
from math import sqrt
from pathlib import Path
from typing import Any

import pytest

import railmap as rm

Run = Callable[..., Any]


@pytest.fixture
def supply(tmp_path: Path) -> Path:
    """Save half a volt of ripple on a bridge, and a dropper behind it."""
    m = rm.RailMap(title="Supply", mains_volts=230, mains_hertz=50)
    for part in (
        rm.Winding("T1", "A", "B", volts_rms=18, ohms=0.5),
        rm.Bridge("B1", "A", "B", "P", "0V", surge_i2t=0.5),
        rm.Capacitor("C1", "P", "0V", farads=0.0047, esr_ohms=0.05),
        rm.Resistor("R1", "P", "Q", ohms=47),
        rm.Resistor("R2", "Q", "0V", ohms=47),
    ):
        m.add(part)
    m.add_rail("P", name="raw", label_volts=24)
    m.add_rail("Q", name="half", label_volts=12)
    path = tmp_path / "supply.railmap"
    rm.save(m, path)
    return path


def test_ripple_as_a_table_and_as_json(run: Run, supply: Path) -> None:
    s = rm.solve(rm.load(supply))
    out = run("ripple", supply).stdout
    assert "Supply: forecast at 230 V mains" in out
    assert " 100 " in out
    assert "not permission" in out
    rows = {row["name"]: row for row in json.loads(run("ripple", supply, "--json").stdout)["rails"]}
    assert rows["raw"]["ripple_volts_pp"] == pytest.approx(s.ripple("P").volts_pp)
    assert rows["half"]["ripple_volts_pp"] == pytest.approx(s.ripple("P").volts_pp / 2, rel=1e-6)
    assert {row["ripple_hertz"] for row in rows.values()} == {100.0}


def test_ripple_without_a_winding_says_so(run: Run, file: Path) -> None:
    assert "No winding feeds this map" in run("ripple", file).stdout


def test_surge_as_a_table_and_as_json(run: Run, supply: Path) -> None:
    out = run("surge", supply)
    assert out.exit_code == 0
    assert "B1" in out.stdout
    assert "over" in out.stdout
    (row,) = json.loads(run("surge", supply, "--json").stdout)["rectifiers"]
    assert row["ref"] == "B1"
    # What the peak drives through all resistance, less the two diodes; the load takes some more.
    most = (18 * sqrt(2) - 1.5) / (0.5 + 0.05 + 2 * 0.05)
    assert row["amps_peak"] == pytest.approx(most, rel=0.01)
    assert row["i2t"] < row["amps_peak"] ** 2 * 0.01
    assert row["ratio"] == pytest.approx(row["i2t"] / 0.5)
    assert row["over"] is True


def test_surge_falls_with_the_mains(run: Run, supply: Path) -> None:
    half, whole = (
        json.loads(run("surge", supply, "--mains", mains, "--json").stdout)["rectifiers"][0]
        for mains in ("115", "230")
    )
    assert half["i2t"] < whole["i2t"] / 3


def test_surge_without_a_rectifier_says_so(run: Run, file: Path) -> None:
    out = run("surge", file)
    assert out.exit_code == 0
    assert "nothing surges" in out.stdout


def test_sweep_of_a_value(run: Run, supply: Path) -> None:
    data = json.loads(run("sweep", supply, "R1", "--from", "22", "--to", "100", "--json").stdout)
    volts = data["rails"]["Q"]
    assert volts == sorted(volts, reverse=True)
    first = rm.solve(rm.load(supply), change=rm.what_if(R1=data["values"][0])).volts("Q")
    assert volts[0] == pytest.approx(first, rel=1e-4)


def test_sweep_of_the_mains(run: Run, supply: Path) -> None:
    data = json.loads(
        run("sweep", supply, "mains", "--from", "200", "--to", "250", "--json").stdout
    )
    volts = data["rails"]["P"]
    # All but the diodes' drop goes with the mains.
    slope = (volts[-1] - volts[0]) / 50
    assert slope == pytest.approx((volts[0] + 1.5) / 200, rel=0.02)
