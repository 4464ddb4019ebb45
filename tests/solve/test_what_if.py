"""What-ifs: how they are written, put together, and carried out without touching the map."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

import railmap as rm
from railmap.solve.what_if import CalmMap, carry_out, from_setup, together, what_if


@pytest.fixture
def m():
    m = rm.RailMap(mains_volts=200, ambient_c=35)
    m.add_board("Main", 100, 80, ambient_c=50)
    m.add_board("Output", 100, 80)
    m.add(rm.Source("V1", "RAW", "0V", volts=20))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150, board="Main").with_found(236))
    m.add(rm.Load("L1", "A", "0V", amps=0.01, board="Output"))
    m.add(rm.Link("J1", "A", "B", accessory=True))
    m.add(rm.Link("J2", "A", "C"))
    return m


def test_nothing_changed(m):
    circuit = carry_out(m, what_if())
    assert circuit.parts == {**m.parts, "R1": m.parts["R1"].settled()}
    assert (circuit.faults, circuit.mains_ratio) == ({}, 1.0)
    assert circuit.ambient_c == {"": 35, "Main": 50, "Output": 35}


def test_the_last_known_value_counts(m):
    assert carry_out(m, what_if()).parts["R1"].ohms == 236


def test_a_value_a_fault_and_fields(m):
    change = what_if({"R1": 180}, L1=rm.OPEN, V1={"volts": 24, "ohms": 2}, J2=rm.SHORT)
    before = m.document()
    circuit = carry_out(m, change)
    assert circuit.parts["R1"].ohms == 180
    assert (circuit.parts["V1"].volts, circuit.parts["V1"].ohms) == (24, 2)
    assert circuit.faults == {"L1": rm.OPEN, "J2": rm.SHORT}
    assert m.document() == before


def test_references_that_are_no_words(m):
    m.add(rm.Resistor("R 9/2", "A", "0V", ohms=1))
    assert carry_out(m, what_if({"R 9/2": 2})).parts["R 9/2"].ohms == 2


def test_unplugging_accessories_and_loads(m):
    assert carry_out(m, what_if(unplugged=["Main"])).faults == {"R1": rm.OPEN}
    assert carry_out(m, what_if(accessories_out=["J1"])).faults == {"J1": rm.OPEN}
    assert carry_out(m, what_if(loads_off=True)).faults == {"L1": rm.OPEN}


def test_what_is_unplugged_is_open_even_if_it_is_short(m):
    assert carry_out(m, what_if(R1=rm.SHORT, unplugged=["Main"])).faults == {"R1": rm.OPEN}


def test_mains(m):
    assert carry_out(m, what_if(mains_volts=230)).mains_ratio == pytest.approx(1.15)


def test_a_setup_is_a_what_if():
    setup = rm.Setup(
        mains_volts=236, unplugged=("Main",), accessories_out=("J1",), loads_off=True
    )  # fmt: skip
    assert from_setup(setup) == what_if(
        mains_volts=236, unplugged=["Main"], accessories_out=["J1"], loads_off=True
    )


def test_the_second_of_two_holds():
    first = what_if(R1=1, R2=2, unplugged=["A", "B"], mains_volts=220)
    second = what_if(R2=3, R3=4, unplugged=["B", "C"], mains_volts=238, loads_off=True)
    whole = together(first, second)
    assert whole.parts == {"R1": 1, "R2": 3, "R3": 4}
    assert whole.unplugged == ("A", "B", "C")
    assert (whole.mains_volts, whole.loads_off) == (238, True)


what_ifs = st.builds(
    what_if,
    st.dictionaries(st.sampled_from(["R1", "R2"]), st.floats(1, 9) | st.just(rm.OPEN)),
    unplugged=st.lists(st.sampled_from("AB"), unique=True),
    accessories_out=st.lists(st.sampled_from(["J1", "J2"]), unique=True),
    mains_volts=st.none() | st.floats(1, 300),
    loads_off=st.booleans(),
)


@given(one=what_ifs, two=what_ifs, three=what_ifs)
def test_nothing_changes_nothing_and_order_of_putting_together_does_not_count(one, two, three):
    assert together(one, what_if()) == together(what_if(), one) == one
    assert together(one, one) == one
    assert together(together(one, two), three) == together(one, together(two, three))


REFUSED = {
    "part": ({"R7": 1.0}, {}, "there is no part 'R7' in the map"),
    "value": ({"R1": -1.0}, {}, "R1: ohms must be above 0"),
    "field": ({"R1": {"henries": 1.0}}, {}, "R1: a Resistor has no field 'henries'"),
    "board": ({}, {"unplugged": ["Rear"]}, "there is no board 'Rear' in the map"),
    "accessory": ({}, {"accessories_out": ["J7"]}, "there is no part 'J7' in the map"),
    "no accessory": ({}, {"accessories_out": ["J2"]}, "J2 is no accessory, so it cannot be out"),
    "a resistor out": ({}, {"accessories_out": ["R1"]}, "R1 is no accessory"),
    "mains": ({}, {"mains_volts": 0.0}, "mains volts must be above 0 and below 100000, is 0"),
    "mains unknown": ({}, {"mains_volts": float("nan")}, "mains volts must be above 0"),
    "too much mains": ({}, {"mains_volts": 1e6}, "mains volts must be above 0"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused_in_one_sentence(m, name):
    parts, more, text = REFUSED[name]
    with pytest.raises(rm.MapError) as caught:
        carry_out(m, what_if(parts, **more))
    assert str(caught.value).startswith(text)


def test_faults_are_written_as_they_are_read():
    assert (repr(rm.OPEN), repr(rm.SHORT)) == ("OPEN", "SHORT")


def test_many_what_ifs_share_what_they_leave_alone(m):
    calm_map = CalmMap(m)
    one, other = calm_map.under(what_if(R1=5)), calm_map.under(what_if(L1=rm.OPEN))
    assert other.parts is calm_map.circuit.parts
    assert one.parts["L1"] is other.parts["L1"]
    assert one.nodes is other.nodes
    assert one == carry_out(m, what_if(R1=5))
    assert one.changed_from(other) == other.changed_from(one) == {"R1", "L1"}
    assert one.changed_from(calm_map.circuit) == {"R1"}
    assert one.changed_from(carry_out(m, what_if(R1=5))) == set()
    assert one.changed_from(carry_out(m, what_if(R1=6, J1=rm.SHORT))) == {"R1", "J1"}


@given(one=what_ifs, two=what_ifs)
def test_what_has_changed_is_found_either_way(one, two):
    m = rm.RailMap(mains_volts=200)
    for name in "AB":
        m.add_board(name, 50, 50)
    m.add(rm.Resistor("R1", "X", "0V", ohms=5, board="A"))
    m.add(rm.Resistor("R2", "X", "0V", ohms=5, board="B").with_found(7.0))
    m.add(rm.Link("J1", "X", "0V", accessory=True))
    m.add(rm.Link("J2", "X", "0V", accessory=True))
    m.add(rm.Load("L1", "X", "0V", amps=1))
    calm_map = CalmMap(m)
    a, b, c = calm_map.under(one), calm_map.under(two), carry_out(m, two)
    expected = {
        ref for ref in m.parts
        if a.parts[ref] != b.parts[ref] or a.faults.get(ref) is not b.faults.get(ref)
    }  # fmt: skip
    assert a.changed_from(b) == a.changed_from(c) == c.changed_from(a) == expected
