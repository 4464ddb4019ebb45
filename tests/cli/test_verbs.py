"""What the verbs answer in text."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

import railmap as rm

Run = Callable[..., Result]
Changes = Callable[..., dict[str, Any]]
Refused = Callable[[Result, int], str]
LineOf = Callable[[str, str], list[str]]
Saved = Callable[..., Path]
MINUS = "\N{MINUS SIGN}"


def test_rails(run: Run, line_of: LineOf, file: Path) -> None:
    result = run("rails", file)
    assert result.exit_code == 0
    out = result.stdout
    assert out.startswith("Divider: forecast at 230 V mains\n")
    assert line_of(out, "minus five")[2:] == ["Side", f"{MINUS}5.00", f"{MINUS}5.00",
                                             "0.0", "ok", "\N{EN DASH}"]  # fmt: skip
    assert line_of(out, "plus eight")[2:] == ["Main", "8.50", "8.00", f"{MINUS}5.9", "ok", "9.00"]
    assert out.index("minus five") < out.index("plus eight")
    assert "Power in 0.980 W = power out 0.980 W." in out
    assert "Hottest part: R2, 64 % of its power rating." in out
    assert out.count("Prediction, not permission") == 1
    assert result.stderr == ""


def test_rails_over_their_limit_are_marked_by_a_word(run: Run, line_of: LineOf, file: Path) -> None:
    out = run("rails", file, "--mains", "300").stdout
    assert line_of(out, "plus eight")[-4:] == ["outside", "9.00", "over", "limit"]


def test_mains_are_written_as_on_the_bench(run: Run, line_of: LineOf, file: Path) -> None:
    out = run("rails", file, "--mains", "0.253kV").stdout
    assert "at 253 V mains" in out
    assert "8.80" in line_of(out, "plus eight")


def test_a_setup_of_the_map(run: Run, line_of: LineOf, file: Path) -> None:
    out = run("rails", file, "--setup", "high").stdout
    assert "at 253 V mains, setup high" in out
    assert "8.80" in line_of(out, "plus eight")


def test_a_revision_of_the_map(run: Run, line_of: LineOf, file: Path) -> None:
    before = file.read_bytes()
    out = run("rails", file, "--revision", "late").stdout
    assert "at 230 V mains, revision late" in out
    assert "6.00" in line_of(out, "plus eight")
    out = run("rails", file, "--setup", "high", "--revision", "late").stdout
    assert "at 253 V mains, setup high, revision late" in out
    assert "6.60" in line_of(out, "plus eight")
    assert file.read_bytes() == before


@pytest.mark.parametrize("verb", ["rails", "hot", "ripple", "surge", "drift", "check"])
def test_every_verb_takes_a_revision(run: Run, verb: str, file: Path) -> None:
    more = ["R2=100"] if verb == "drift" else []
    data = json.loads(run(verb, file, *more, "--revision", "late", "--json").stdout)
    assert data["revision"] == "late"
    assert json.loads(run(verb, file, *more, "--json").stdout)["revision"] is None


def test_a_sweep_of_a_revision(run: Run, file: Path) -> None:
    words = ["--revision", "late", "--points", "2", "--from", "200", "--to", "400", "--json"]
    data = json.loads(run("sweep", file, "R2", *words).stdout)
    # 12 V over 200 ohms and 200 or 400 ohms: Ohm's law
    assert data["rails"]["A"] == pytest.approx([6, 8])


def test_a_picture_of_a_revision(run: Run, file: Path, tmp_path: Path) -> None:
    drawn: list[float | None] = []
    result = run(
        "picture", file, "-o", tmp_path / "a.png", "--revision", "late",
        draw_picture=lambda m, *args, **more: drawn.append(m.parts["R1"].now()),
    )  # fmt: skip
    assert result.exit_code == 0
    assert drawn == [200]


def test_mains_stand_above_those_of_the_setup(run: Run, file: Path) -> None:
    data = json.loads(run("rails", file, "--setup", "high", "--mains", "207", "--json").stdout)
    assert (data["mains_volts"], data["setup"]) == (207.0, "high")
    assert data["rails"][1]["volts"] == pytest.approx(7.2)


def test_a_setup_with_a_board_unplugged(run: Run, line_of: LineOf, file: Path) -> None:
    result = run("rails", file, "--setup", "side out")
    words = line_of(result.stdout, "minus five")
    assert words[3:] == [f"{MINUS}5.00", "0.00", f"{MINUS}100.0", "outside", "\N{EN DASH}"]


def test_a_map_without_rails_says_so(run: Run, saved: Saved) -> None:
    m = rm.RailMap("Bare")
    m.add(rm.Source("V1", "RAW", "0V", volts=12))
    result = run("rails", saved(m))
    assert result.exit_code == 0
    assert "(the map names no rail)" in result.stdout
    assert "Hottest" not in result.stdout


def test_findings_are_notes_and_leave_an_exit_code(
    run: Run, line_of: LineOf, islands: Path
) -> None:
    result = run("rails", islands)
    assert result.exit_code == 1
    assert "Note: X and Y have no path to 0 V (parts: R8 and R9); the rest is solved." in (
        result.stdout
    )
    assert "8.00" in line_of(result.stdout, "plus eight")


def test_a_contradiction_shows_no_figures(run: Run, line_of: LineOf, faulty: Path) -> None:
    result = run("rails", faulty)
    assert result.exit_code == 1
    assert "form a loop without resistance" in result.stdout
    assert "Power in" not in result.stdout
    assert line_of(result.stdout, "plus eight")[-3:] == ["no", "figure", "9.00"]


def test_hot(run: Run, line_of: LineOf, hot_file: Path) -> None:
    out = run("hot", hot_file).stdout
    assert line_of(out, "R2") == ["R2", "Resistor", "Main", "200R", "power", "0.320", "W",
                                  "0.250", "W", "128", "%", "over"]  # fmt: skip
    assert line_of(out, "C1") == ["C1", "Capacitor", "470u", "voltage", "8.00", "V", "25.0", "V",
                                  "32", "%"]  # fmt: skip
    assert [out.index(f"\n{ref} ") for ref in ("R2", "R3", "C1", "R1")] == sorted(
        out.index(f"\n{ref} ") for ref in ("R2", "R3", "C1", "R1")
    )
    assert "Not judged, as the map gives no rating: V1, V2, R4, W1, R5." in out
    assert out.count("Prediction, not permission") == 1


def test_hot_without_figures_says_so(run: Run, faulty: Path) -> None:
    result = run("hot", faulty)
    assert result.exit_code == 1
    assert "(no part has a figure for a rating)" in result.stdout
    assert "Note: " in result.stdout


def test_drift(run: Run, line_of: LineOf, file: Path) -> None:
    result = run("drift", file, "R1=236", "R3=+20%")
    assert result.exit_code == 0
    # 12 V over 236 and 200 ohms; 10 V over 120 and 100 ohms beside 100 kilohms.
    assert line_of(result.stdout, "plus eight")[3:] == ["8.00", "5.50", f"{MINUS}2.50",
                                                        f"{MINUS}31.2", "outside"]  # fmt: skip
    assert line_of(result.stdout, "minus five")[3:] == [f"{MINUS}5.00", f"{MINUS}4.54", "+0.45",
                                                        f"{MINUS}9.1", "ok"]  # fmt: skip
    assert line_of(result.stdout, "R1")[2:5] == ["100R", "to", "236R"]
    assert line_of(result.stdout, "R3")[2:5] == ["100R", "to", "120R"]
    assert result.stdout.count("Prediction, not permission") == 1


@pytest.fixture
def changes_of(run: Run) -> Changes:
    """Return the values that ``drift`` tries for what was written."""

    def found(file: Path, *words: str) -> dict[str, Any]:
        result = run("drift", file, *words, "--json")
        assert result.exit_code in (0, 1), result.stderr
        return json.loads(result.stdout)["changes"]

    return found


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("R1=1k2", 1200.0),
        ("R1=0R47", 0.47),
        (" R1 = 236 ohm ", 236.0),
        ("R1=open", "open"),
        ("R1=SHORT", "short"),
        ("R1=-10%", 90.0),
        (f"R1={MINUS}10 %", 90.0),
        ("R1=+2.5%", 102.5),
        ("C1=1000u", 1000e-6),
        ("C1=short", "short"),
        ("V1=24V", 24.0),
    ],
)
def test_values_to_try(changes_of: Changes, file: Path, word: str, value: float | str) -> None:
    (found,) = changes_of(file, word).values()
    assert found == (value if isinstance(value, str) else pytest.approx(value))


def test_a_percentage_is_of_the_last_known_value(
    changes_of: Changes, saved: Saved, divider: rm.RailMap
) -> None:
    m = divider
    found = m.parts["R1"].with_found(150, source="cold, lifted")
    m.change([rm.model.railmap.Change("parts", "R1", found)])
    assert changes_of(saved(m), "R1=+20%") == {"R1": pytest.approx(180.0)}


def test_drift_leaves_the_file_as_it_is(run: Run, file: Path) -> None:
    old = file.read_bytes()
    run("drift", file, "R1=236")
    assert file.read_bytes() == old


def test_drift_that_breaks_the_circuit_has_an_exit_code(run: Run, file: Path) -> None:
    result = run("drift", file, "R1=short", "R2=short")
    assert result.exit_code == 1
    assert "loop without resistance" in result.stdout


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["R7=236"], "there is no part 'R7' in the map"),
        (["r1=236"], "there is no part 'r1' in the map; did you mean R1?"),
        (["R1"], "'R1' is no change; write it like R7=236, R9=open or R8=+20%"),
        (["R1="], "'R1=' is no change"),
        (["=12"], "'=12' is no change"),
        (["R1=1", "R1=2"], "R1 is given twice"),
        (["R1=abc"], "R1: 'abc' cannot be read as ohms"),
        (["R1=10V"], "R1: '10V' is in volts; ohms are wanted here"),
        (["R1=10m"], "R1: '10m' could be 10 mΩ or 10 MΩ"),
        (["R1=20%"], "R1: write +20% or -20% to change the present value"),
        (["R1=+x%"], "R1: '+x%' cannot be read as percentages"),
        (["R1=-100%"], "R1: ohms must be above 0, is 0"),
        (["R1=-5"], "R1: ohms must be above 0, is -5"),
        (["W1=+20%"], "W1 has no value other than 0, so a percentage changes nothing"),
    ],
)
def test_changes_that_cannot_be(
    run: Run, refused: Refused, file: Path, words: list[str], sentence: str
) -> None:
    assert sentence in refused(run("drift", file, *words), 2)


def test_an_ambiguous_value_names_clear_spellings(run: Run, refused: Refused, file: Path) -> None:
    assert refused(run("drift", file, "R1=10m"), 2).endswith("write 0R01 or 10M")


def test_check_of_a_sound_map(run: Run, file: Path) -> None:
    result = run("check", file)
    assert (result.exit_code, result.stdout) == (0, "ok: 2 boards, 9 parts, 2 rails\n")


def test_check_names_what_is_over(run: Run, hot_file: Path) -> None:
    result = run("check", hot_file)
    assert result.exit_code == 1
    assert result.stdout.splitlines() == [
        "not ok: 2 boards, 9 parts, 2 rails",
        "R2 is at 128 % of its power rating: 0.320 W of 0.250 W.",
        "Rail plus eight is forecast at 8.00 V, over its limit of 7.00 V.",
    ]


def test_a_rail_outside_its_band_is_named_but_no_trouble(run: Run, file: Path) -> None:
    result = run("check", file, "--mains", "200")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[1:] == ["Outside the band: plus eight."]


@pytest.mark.parametrize("name", ["faulty", "islands"])
def test_check_of_an_unsound_map(run: Run, name: str, request: pytest.FixtureRequest) -> None:
    result = run("check", request.getfixturevalue(name))
    assert result.exit_code == 1
    assert result.stdout.startswith("not ok: ")
    assert len(result.stdout.splitlines()) == 2


def test_check_counts_one_thing_as_one(run: Run, saved: Saved) -> None:
    m = rm.RailMap()
    m.add(rm.Resistor("R1", "0V", "0V", ohms=1))
    assert "0 boards, 1 part, 0 rails" in run("check", saved(m)).stdout
