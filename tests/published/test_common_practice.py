"""Facts of the trade: common practice, no source. The algebra beside them is our own."""

import pytest

import railmap as rm


def test_divider(solved, exactly):
    # Common practice, no source: 9 V over 100 and 200 ohms gives 6 V.
    s = solved(
        rm.Source("V1", "RAW", "0V", volts=9),
        rm.Resistor("R1", "RAW", "A", ohms=100),
        rm.Resistor("R2", "A", "0V", ohms=200),
    )
    assert s.volts("A") == exactly(6)
    assert s.part("R1").amps == exactly(0.03)
    assert (s.part("R1").watts, s.part("R2").watts) == exactly((0.09, 0.18))
    assert s.power_in == exactly(0.27)


@pytest.mark.parametrize("sign", [1, -1], ids=["positive", "negative"])
def test_heat_in_a_linear_regulator(solved, exactly, sign):
    # Common practice, no source: 20 V in, 5 V out at 1 A burn 15 W. The regulator's output
    # resistance, here a microhm, moves a microwatt from the load into it.
    ends = ("OUT", "0V") if sign > 0 else ("0V", "OUT")
    s = solved(
        rm.Source("V1", "IN", "0V", volts=sign * 20),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=sign * 5, ohms=1e-6),
        rm.Load("L1", *ends, amps=1),
    )
    assert s.volts("OUT") == exactly(sign * (5 - 1e-6))
    assert s.part("U1").watts == exactly(15 + 1e-6)
    assert s.part("L1").watts == exactly(5 - 1e-6)
    assert s.part("V1").delivered_watts == exactly(20)


DRAWN_OHMS, FOUND_OHMS = 150.0, 236.0
"""A dropper marked 150 ohms that measures 236, as old ones do: common practice, no source."""

EMF, RAW_OHMS = 36.0, 10.0
R2_OHMS, R3_OHMS = 47.0, 120.0
LOAD_A_OHMS, LOAD_B_OHMS, LOAD_C_OHMS = 470.0, 220.0, 330.0


def supply(dropper):
    """Own map: a raw rail, the dropper to A, R2 from there to B, and R3 to the neighbour C."""
    return (
        rm.Source("V1", "RAW", "0V", volts=EMF, ohms=RAW_OHMS),
        dropper,
        rm.Load("LA", "A", "0V", ohms=LOAD_A_OHMS),
        rm.Resistor("R2", "A", "B", ohms=R2_OHMS),
        rm.Load("LB", "B", "0V", ohms=LOAD_B_OHMS),
        rm.Resistor("R3", "RAW", "C", ohms=R3_OHMS),
        rm.Load("LC", "C", "0V", ohms=LOAD_C_OHMS),
    )


def by_hand(dropper_ohms):
    """Return volts of RAW, A, B and C, and of the dropper, by series and parallel alone."""
    behind_b = R2_OHMS + LOAD_B_OHMS
    at_a = LOAD_A_OHMS * behind_b / (LOAD_A_OHMS + behind_b)
    branch = dropper_ohms + at_a
    neighbour = R3_OHMS + LOAD_C_OHMS
    on_raw = branch * neighbour / (branch + neighbour)
    raw = EMF * on_raw / (RAW_OHMS + on_raw)
    a = raw * at_a / branch
    return {
        "RAW": raw, "A": a, "B": a * LOAD_B_OHMS / behind_b, "C": raw * LOAD_C_OHMS / neighbour,
        "R1": raw - a,
    }  # fmt: skip


def shown(s):
    return {**{node: s.volts(node) for node in ("RAW", "A", "B", "C")}, "R1": s.part("R1").volts}


def test_drifted_dropper_moves_every_rail(solved, exactly):
    dropper = rm.Resistor("R1", "RAW", "A", ohms=DRAWN_OHMS)
    drawn = shown(solved(*supply(dropper)))
    found = shown(solved(*supply(dropper.with_found(FOUND_OHMS))))
    assert drawn == exactly(by_hand(DRAWN_OHMS))
    assert found == exactly(by_hand(FOUND_OHMS))
    assert found["A"] < drawn["A"] - 1, "its rail falls"
    assert found["B"] < drawn["B"] - 1, "what is behind its rail falls"
    assert found["RAW"] > drawn["RAW"], "the raw rail rises"
    assert found["C"] > drawn["C"], "the neighbour rises"
    assert found["R1"] > drawn["R1"] + 1, "its own volts rise"


def test_trying_a_value_is_the_same_as_finding_it(solved, exactly):
    dropper = rm.Resistor("R1", "RAW", "A", ohms=DRAWN_OHMS)
    tried = shown(solved(*supply(dropper), change=rm.what_if(R1=FOUND_OHMS)))
    assert tried == exactly(by_hand(FOUND_OHMS))
    back = shown(solved(*supply(dropper.with_found(FOUND_OHMS)), change=rm.what_if(R1=DRAWN_OHMS)))
    assert back == exactly(by_hand(DRAWN_OHMS))


def test_drifted_dropper_with_a_steady_load_moves_its_own_rail_only(solved, exactly):
    # 50 mA through the dropper whatever its ohms: A falls by 50 mA times the drift, nothing else.
    def rails(dropper_ohms):
        s = solved(
            rm.Source("V1", "RAW", "0V", volts=EMF, ohms=RAW_OHMS),
            rm.Resistor("R1", "RAW", "A", ohms=DRAWN_OHMS).with_found(dropper_ohms),
            rm.Load("LA", "A", "0V", amps=0.05),
            rm.Resistor("R3", "RAW", "C", ohms=R3_OHMS),
            rm.Load("LC", "C", "0V", amps=0.03),
        )
        return s.volts("RAW"), s.volts("A"), s.volts("C"), s.part("R1").watts

    raw = EMF - 0.08 * RAW_OHMS
    neighbour = raw - 0.03 * R3_OHMS
    for ohms in (DRAWN_OHMS, FOUND_OHMS):
        expected = (raw, raw - 0.05 * ohms, neighbour, 0.05**2 * ohms)
        assert rails(ohms) == exactly(expected)
