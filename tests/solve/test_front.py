"""The door to the solver: mains, setups and what-ifs, and what holds if they disagree."""

import pytest

import railmap as rm
from railmap.solve.assemble import assemble, with_part
from railmap.solve.front import (
    solve_circuit,
    solve_network,
    solve_on,
    turn_circuit,
    turns,
)
from railmap.solve.what_if import carry_out, what_if


@pytest.fixture
def m():
    m = rm.RailMap(mains_volts=200)
    m.add_board("Main", 100, 80)
    m.add(rm.Source("V1", "RAW", "0V", volts=20, follows_mains=True))
    m.add(rm.Source("V2", "REF", "0V", volts=5))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    m.add(rm.Resistor("R2", "A", "0V", ohms=100, board="Main"))
    m.add(rm.Load("L1", "A", "0V", ohms=100))
    return m


def test_design_mains_by_default(m):
    assert rm.solve(m).volts("RAW") == pytest.approx(20)


def test_only_what_follows_the_mains_follows_it(m):
    s = rm.solve(m, mains_volts=220)
    assert (s.volts("RAW"), s.volts("REF")) == pytest.approx((22, 5))


def test_a_setup(m):
    setup = rm.Setup(mains_volts=220, unplugged=("Main",), loads_off=True)
    s = rm.solve(m, setup=setup)
    assert s.volts("A") == pytest.approx(22)
    assert s.part("R2").amps == s.part("L1").amps == 0.0


def test_a_what_if_on_top_of_a_setup(m):
    setup = rm.Setup(mains_volts=220, loads_off=True)
    s = rm.solve(m, setup=setup, change=rm.what_if(R1=300, mains_volts=240))
    assert s.volts("A") == pytest.approx(24 * 100 / 400)


def test_mains_given_apart_holds(m):
    setup, change = rm.Setup(mains_volts=220), rm.what_if(mains_volts=240)
    assert rm.solve(m, setup=setup, change=change, mains_volts=180).volts("RAW") == 18
    assert rm.solve(m, setup=setup, mains_volts=180).volts("RAW") == 18
    assert rm.solve(m, setup=setup, change=change).volts("RAW") == 24
    assert rm.solve(m, setup=setup).volts("RAW") == 22


def test_what_the_map_does_not_have_is_refused(m):
    with pytest.raises(rm.MapError, match="there is no part 'R9'"):
        rm.solve(m, change=rm.what_if(R9=1))
    with pytest.raises(rm.MapError, match="there is no board 'Rear'"):
        rm.solve(m, setup=rm.Setup(unplugged=("Rear",)))
    with pytest.raises(rm.MapError, match="mains volts must be above 0"):
        rm.solve(m, mains_volts=-1)


def test_statuses(m):
    assert rm.solve(m).status == "solved"
    m.add(rm.Resistor("R3", "P", "Q", ohms=1))
    assert rm.solve(m).status == "partly solved"
    assert rm.solve(m, change=rm.what_if(R1=rm.SHORT, R2=rm.SHORT)).status == "contradiction"


def test_a_network_again_with_other_numbers(m):
    network = assemble(carry_out(m, what_if()))
    first = solve_network(m, network)
    drifted = with_part(network, m.parts["R1"].changed(ohms=150.0))
    assert drifted is not None
    warm = solve_network(m, drifted, first.operating)
    assert warm.volts("A") == pytest.approx(rm.solve(m, change=what_if(R1=150)).volts("A"))
    assert first.volts("A") == pytest.approx(20 * 50 / 150)


def test_a_contradiction_is_not_begun_anywhere(m):
    before = solve_network(m, assemble(carry_out(m, what_if())))
    loop = assemble(carry_out(m, what_if(R1=rm.SHORT, R2=rm.SHORT)))
    assert solve_network(m, loop, before.operating).status == "contradiction"


def test_a_winding_turns_the_map_unless_it_is_out(m):
    assert not turns(carry_out(m, what_if()))
    m.add(rm.Winding("T1", "S", "0V", volts_rms=12, ohms=1))
    m.add(rm.Resistor("R4", "S", "0V", ohms=11))
    assert turns(carry_out(m, what_if()))
    without = carry_out(m, what_if(T1=rm.OPEN))
    assert not turns(without)
    s = solve_circuit(m, without)
    assert s.turn is None
    assert s.volts("S") == 0.0


def test_a_winding_on_a_resistance(m):
    m.add(rm.Winding("T1", "S", "0V", volts_rms=12, ohms=1))
    m.add(rm.Resistor("R4", "S", "0V", ohms=11))
    s = rm.solve(m, mains_volts=220)
    assert s.turn is not None
    assert s.volts_rms("S") == pytest.approx(12 * 1.1 * 11 / 12, rel=1e-4)
    assert s.volts("S") == pytest.approx(0, abs=1e-9)
    assert s.is_alternating("S")
    assert s.part("R4").watts == pytest.approx(1.1**2 * 11, rel=1e-4)


def test_a_loop_of_ideal_windings_is_refused_and_harms_what_follows_not():
    m = rm.RailMap()
    m.add(rm.Winding("T1", "A", "0V", volts_rms=20))
    m.add(rm.Winding("T2", "A", "0V", volts_rms=20))
    m.add(rm.Load("L1", "A", "0V", amps=0.5, at_volts=20, law="lamp"))
    refused, state = solve_on(m, carry_out(m, what_if()))
    assert (refused.status, refused.has_figures, state) == ("contradiction", False, None)
    with pytest.raises(rm.MapError, match="T2 and T1 form a loop without resistance"):
        turn_circuit(m, carry_out(m, what_if()))
    good, state = solve_on(m, carry_out(m, what_if(T2=rm.OPEN)), state)
    assert good.status == "solved"
    assert good.volts_rms("A") == pytest.approx(20, rel=1e-3)
    assert good.part("L1").amps_rms == pytest.approx(0.5, rel=1e-3)
    assert solve_on(m, carry_out(m, what_if(T1=rm.OPEN)), state)[0].status == "solved"
    short = rm.solve(m, change=what_if(L1=rm.SHORT))
    assert short.status == "contradiction"
