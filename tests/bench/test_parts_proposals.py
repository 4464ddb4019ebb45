"""What a new row proposes: the next reference, where it goes on, and its board."""

import pytest
from parts_rows import enter, row

import railmap as rm
from railmap.bench.parts_proposals import completed, proposed
from railmap.bench.parts_table import Row, read_row

SUPPLY = (
    row(ref="T1A", drawn="26.5V 2R", from_="AC1", to="0V", board="Supply"),
    row(ref="T1B", drawn="26.5V 2R", from_="0V", to="AC2", board="Supply"),
    row(ref="BR1", from_="AC1", to="AC2", third="P0", fourth="N0", board="Supply"),
)
DROPPER = row(ref="R101", drawn="33R", from_="P0", to="P1", board="Logic")


@pytest.fixture
def m() -> rm.RailMap:
    return rm.RailMap()


def offer(m: rm.RailMap, last: tuple[str, str] | None = None, **typed: str) -> dict[str, str]:
    return proposed(m, row(**typed), last)


def test_nothing_comes_of_nothing(m: rm.RailMap) -> None:
    assert offer(m) == {}
    assert offer(m, ref="R1") == {"kind": "Resistor"}
    assert offer(m, ref="X1") == {"kind": "Load", "to": "0V"}


def test_a_row_of_the_map_proposes_nothing(m: rm.RailMap) -> None:
    enter(m, DROPPER)
    assert proposed(m, Row({}, "parts", "R101")) == {}


def test_a_kind_that_is_none_proposes_nothing(m: rm.RailMap) -> None:
    enter(m, DROPPER)
    assert offer(m, ref="R2", kind="resister") == {}


def test_the_order_is_that_of_the_drawing(m: rm.RailMap) -> None:
    """Dropper, rail, load, capacitor, next dropper: each row taken as it is proposed."""
    enter(m, *SUPPLY, DROPPER)
    more = {"Rail": {}, "Load": {"drawn": "1A"}, "Capacitor": {"drawn": "1u"},
            "Resistor": {"drawn": "1k"}}  # fmt: skip
    last, refs = ("parts", "R101"), []
    for _ in range(8):
        texts = offer(m, last)
        item = enter(m, Row({**texts, **more[texts["kind"]]}))[0].item
        assert item is not None
        last = ("rails", item.node) if isinstance(item, rm.Rail) else ("parts", item.ref)
        refs.append(last[1])
    assert refs == ["P1", "X1", "C1", "R102", "P2", "X2", "C2", "R103"]
    assert m.parts["X2"].nodes == m.parts["C2"].nodes == ("P2", "0V")
    assert m.parts["R103"].nodes == ("P2", "P3")
    assert {m.parts[ref].board for ref in refs if ref in m.parts} == {"Logic"}


def test_what_a_rail_has_is_not_asked_for(m: rm.RailMap) -> None:
    enter(m, DROPPER, row(ref="P1", kind="rail", drawn="27"))
    assert offer(m, ("parts", "R101"))["ref"] == "X1"
    enter(m, row(ref="X1", drawn="1A", from_="P1"))
    assert offer(m, ("parts", "R101"))["ref"] == "C1"
    enter(m, row(ref="C1", drawn="1u", from_="P1"))
    assert offer(m, ("parts", "R101"))["ref"] == "R102"
    assert offer(m, ("rails", "P1"))["ref"] == "R102"


def test_a_dropper_from_elsewhere_goes_to_a_new_node(m: rm.RailMap) -> None:
    enter(m, DROPPER, row(ref="R102", drawn="1k", from_="P1", to="P2"))
    onward = {"kind": "Resistor", "to": "P3"}
    assert offer(m, ref="R103", from_="P0") == onward
    assert offer(m, ref="U1", from_="P0") == {**onward, "kind": "Linear regulator", "third": "0V"}


def test_a_winding_in_two_halves_and_its_bridge(m: rm.RailMap) -> None:
    enter(m, SUPPLY[0])
    half = {"ref": "T1B", "kind": "Winding", "from": "0V", "to": "AC2", "board": "Supply"}
    assert offer(m) == half
    enter(m, SUPPLY[1])
    bridge = {"kind": "Bridge rectifier", "from": "AC1", "to": "AC2", "board": "Supply"}
    assert offer(m, ref="BR1") == bridge
    assert offer(m)["ref"] == "D1"


def test_two_diodes_at_one_reservoir(m: rm.RailMap) -> None:
    enter(m, *SUPPLY[:2])
    assert offer(m, ref="D1") == {"kind": "Diode", "from": "AC1", "board": "Supply"}
    enter(m, row(ref="D1", from_="AC1", to="P0", board="Supply"))
    second = {"ref": "D2", "kind": "Diode", "from": "AC2", "to": "P0", "board": "Supply"}
    assert offer(m) == second
    enter(m, row(ref="D2", from_="AC2", to="P0", board="Supply"))
    assert offer(m) == {"ref": "P0", "kind": "Rail"}


def test_half_wave_towards_the_negative(m: rm.RailMap) -> None:
    """The cathode is at the winding: work goes on at the anode, which is below zero."""
    enter(m, SUPPLY[0], row(ref="D1", from_="N0", to="AC1"))
    assert offer(m, ("parts", "D1"))["ref"] == "N0"
    assert offer(m, ("parts", "D1"), ref="C1") == {"kind": "Capacitor", "from": "0V", "to": "N0"}


def test_polarity_on_a_negative_rail(m: rm.RailMap) -> None:
    """By the label, else by what makes the node; a load has none."""
    enter(m, *SUPPLY, row(ref="R1", drawn="1k", from_="N0", to="N1"))
    for last in (("parts", "R1"), ("parts", "BR1")):
        pins = [offer(m, last, ref=ref) for ref in ("C1", "ZD1", "X1")]
        ways = [(texts["from"], texts["to"]) for texts in pins]
        if last[1] == "R1":
            assert ways == [("0V", "N1"), ("0V", "N1"), ("N1", "0V")]
        else:
            assert ways == [("P0", "0V")] * 3
    enter(m, row(ref="A", kind="rail", drawn="-5V"), row(ref="B", kind="rail", drawn="5V"))
    assert offer(m, ("rails", "A"), ref="C1")["to"] == "A"
    assert offer(m, ("rails", "B"), ref="C1")["to"] == "0V"


def test_the_first_node_that_is_typed_moves_the_second(m: rm.RailMap) -> None:
    enter(m, *SUPPLY, row(ref="R1", drawn="1k", from_="N0", to="N1"))
    assert offer(m, ref="C1", from_="gnd")["to"] == "N1"
    assert offer(m, ref="C1", from_="P0")["to"] == "0V"


def test_the_board_behind_a_rail_is_that_of_its_maker(m: rm.RailMap) -> None:
    enter(m, *SUPPLY, DROPPER, row(ref="N0", kind="rail", drawn="-35"))
    assert offer(m, ref="C1")["board"] == "Logic"
    assert offer(m, ("rails", "N0"), ref="C1")["board"] == "Supply"
    enter(m, row(ref="Z", kind="rail", drawn="1"))
    assert offer(m, ("rails", "Z"), ref="C1")["board"] == "Logic"


def test_other_parts(m: rm.RailMap) -> None:
    enter(m, row(ref="V1", drawn="24V", from_="RAW"))
    assert offer(m)["ref"] == "RAW"
    assert offer(m, ref="U1") == {"kind": "Linear regulator", "from": "RAW", "third": "0V"}
    assert offer(m, ref="Q1") == {"kind": "Pass transistor", "from": "RAW"}
    assert offer(m, ref="V2") == {"kind": "Source", "to": "0V"}
    assert offer(m, ref="BR1") == {"kind": "Bridge rectifier"}
    assert offer(m, ref="D1") == {"kind": "Diode", "from": "RAW"}
    assert offer(m, ref="Side", kind="board") == {}
    enter(m, row(ref="R1", drawn="1k", from_="RAW", to="0V"))
    assert offer(m, ref="R2") == {"kind": "Resistor", "from": "RAW"}, "a bleeder leads nowhere"


def test_nodes_named_by_their_volts_do_not_count(m: rm.RailMap) -> None:
    enter(m, row(ref="R1", drawn="1k", from_="+36", to="+29"))
    assert offer(m, ref="R2") == {"kind": "Resistor", "from": "+29"}
    assert offer(m)["ref"] == "X1", "it has its rail by its name"


def test_what_was_emptied_stays_empty(m: rm.RailMap) -> None:
    enter(m, DROPPER)
    assert offer(m, ref="R102", board="", to="") == {"kind": "Resistor", "from": "P1"}
    assert "ref" not in offer(m, ref="")


def test_what_is_gone_is_not_gone_on_from(m: rm.RailMap) -> None:
    enter(m, DROPPER)
    assert offer(m, ("rails", "P9"), ref="R2")["from"] == "P1"


def test_values_ratings_and_limits_are_never_proposed(m: rm.RailMap) -> None:
    enter(m, *SUPPLY, DROPPER)
    for ref in ("R1", "C1", "X1", "U1", "ZD1", "D1", "P1", "J1", "F1", "Q1", "L1", "V1"):
        told = offer(m, ref=ref)
        assert told.keys() <= {"kind", "from", "to", "third", "fourth", "board"}


@pytest.mark.parametrize(
    ("letters", "whole"),
    [("R", "R103"), ("C", "C011"), ("U", "U1"), ("X", "X1"), ("N", "N0"), ("P", "P0"), ("AC", ""),
     ("R1", ""), ("", ""), ("+", ""), ("Main", "")],
)  # fmt: skip
def test_letters_are_completed(m: rm.RailMap, letters: str, whole: str) -> None:
    enter(m, *SUPPLY, DROPPER, row(ref="C010", drawn="1u", from_="P1"))
    m.add(rm.Resistor("R102", "P1", "P2", ohms=1))
    assert completed(m, letters) == whole


def test_a_number_that_is_taken_is_passed_over(m: rm.RailMap) -> None:
    enter(m, DROPPER, row(ref="P1", kind="rail", drawn="1"), row(ref="P0", kind="rail", drawn="2"))
    assert completed(m, "R", ["R102", "R103"]) == "R104"
    assert completed(m, "P") == "P2", "a link may not be called as a node is"
    m.add(rm.Winding("T1A", "AC1", "0V", volts_rms=9))
    assert proposed(m, Row(), ("parts", "T1A"), ["T1B"])["ref"] == "D1"


def test_a_loop_of_droppers_has_no_sign(m: rm.RailMap) -> None:
    enter(
        m,
        row(ref="R1", drawn="1k", from_="A", to="B"),
        row(ref="R2", drawn="1k", from_="B", to="A"),
    )
    assert offer(m, ref="C1") == {"kind": "Capacitor", "from": "A", "to": "0V"}


@pytest.mark.parametrize("ref", ["R9", "C9", "X9", "U9", "ZD9", "D9"])
def test_what_is_proposed_is_good(m: rm.RailMap, ref: str) -> None:
    """A proposal is read as if it had been typed, and nothing in it is refused."""
    enter(m, *SUPPLY, DROPPER)
    texts = offer(m, ref=ref)
    reading = read_row(m, Row({"ref": ref, **texts}))
    assert reading.reasons == {}


def test_a_long_chain_is_followed_to_its_end(m: rm.RailMap) -> None:
    enter(m, *SUPPLY)
    for number in range(2000):
        m.add(rm.Resistor(f"R{number}", f"N{number}", f"N{number + 1}", ohms=1))
    assert offer(m, ref="C1") == {"kind": "Capacitor", "from": "0V", "to": "N2000"}
