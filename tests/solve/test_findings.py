"""What the circuit says of itself, in sentences with names."""

import pytest

import railmap as rm

FEED = (
    rm.Source("V1", "RAW", "0V", volts=20, ohms=1),
    rm.Resistor("R1", "RAW", "A", ohms=100),
    rm.Load("L1", "A", "0V", amps=0.02),
)


@pytest.fixture
def found(map_of):
    """Solve a map and return its findings by kind."""

    def find(*parts, change=None):
        s = rm.solve(map_of(*parts), change=change)
        assert s.message == "\n".join(f.sentence for f in s.findings)
        for finding in s.findings:
            assert finding.sentence.endswith(".")
            assert "\n" not in finding.sentence
        return s.findings

    return find


def only(findings):
    assert len(findings) == 1
    return findings[0]


def test_a_good_map_has_nothing_to_say(found):
    assert found(*FEED) == ()


def test_an_open_end_as_a_misspelt_node_makes_it(found):
    finding = only(found(*FEED, rm.Resistor("R2", "A", "AA", ohms=10)))
    assert (finding.kind, finding.refs, finding.nodes) == ("open end", ("R2",), ("AA",))
    assert finding.sentence == "R2: AA leads nowhere, no other part is on it."


def test_both_ends_open(found):
    findings = found(*FEED, rm.Capacitor("C1", "P", "Q", farads=1e-6))
    assert only(findings).sentence == "C1: P and Q lead nowhere, no other part is on it."


def test_what_is_open_has_no_open_ends_and_leaves_some(found):
    assert found(*FEED, rm.Resistor("R2", "A", "AA", ohms=10), change=rm.what_if(R2=rm.OPEN)) == ()
    chain = (rm.Resistor("R2", "A", "B", ohms=10), rm.Resistor("R3", "B", "0V", ohms=1000))
    findings = found(*FEED, *chain, change=rm.what_if(R3=rm.OPEN))
    assert only(findings).refs == ("R2",)


def test_zero_volts_is_never_an_open_end(found):
    findings = found(rm.Resistor("R1", "A", "0V", ohms=10))
    assert only(findings).nodes == ("A",)


def test_an_island(found):
    island = (
        rm.Source("V2", "P", "Q", volts=5), rm.Resistor("R2", "P", "Q", ohms=10),
        rm.Capacitor("C2", "P", "0V", farads=1e-6),
    )  # fmt: skip
    finding = only(found(*FEED, *island))
    # The capacitor does not conduct: it neither joins the island nor belongs to it.
    assert (finding.kind, finding.refs) == ("island", ("V2", "R2"))
    assert finding.sentence == (
        "P and Q have no path to 0 V (parts: V2 and R2); the rest is solved."
    )


def test_an_island_of_nothing_but_a_leaking_capacitor(found):
    findings = found(
        *FEED, rm.Capacitor("C2", "P", "Q", farads=1e-6, leak_ohms=1e6),
        rm.Capacitor("C3", "P", "Q", farads=1e-6),
    )  # fmt: skip
    assert only(findings).refs == ("C2",)


def test_an_island_of_one_node(found):
    kinds = [f.kind for f in found(*FEED, rm.Resistor("R2", "P", "P", ohms=1))]
    assert kinds == ["island"]
    sentence = found(*FEED, rm.Resistor("R2", "P", "P", ohms=1))[0].sentence
    assert sentence.startswith("P has no path to 0 V (parts: R2)")


def test_unplugging_makes_an_island_without_the_parts_that_are_gone():
    m = rm.RailMap()
    m.add_board("Plug", 50, 50)
    for part in (*FEED, rm.Link("J1", "A", "B", board="Plug")):
        m.add(part)
    m.add(rm.Resistor("R2", "B", "C", ohms=100))
    m.add(rm.Load("L2", "B", "C", ohms=50))
    s = rm.solve(m, change=rm.what_if(unplugged=["Plug"]))
    assert s.status == "partly solved"
    assert s.findings[0].refs == ("R2", "L2")


def test_two_islands_are_two_findings(found):
    findings = found(
        *FEED, rm.Resistor("R2", "P", "Q", ohms=10), rm.Resistor("R3", "P", "Q", ohms=10),
        rm.Resistor("R4", "X", "Y", ohms=10), rm.Resistor("R5", "X", "Y", ohms=10),
    )  # fmt: skip
    assert [f.refs for f in findings] == [("R2", "R3"), ("R4", "R5")]


def test_a_long_list_of_names_is_cut_short(found):
    many = [rm.Resistor(f"R{i}", "P", f"P{i % 2}", ohms=10) for i in range(2, 12)]
    finding = only(found(*FEED, *many))
    assert "(parts: R2, R3, R4, R5, R6 and 5 more)" in finding.sentence
    assert len(finding.refs) == 10


def test_a_contradiction(found):
    finding = only(found(*FEED, rm.Source("V2", "B", "0V", volts=5), rm.Link("J1", "B", "0V")))
    assert finding.kind == "contradiction"
    assert finding.sentence == (
        "V2 and J1 form a loop without resistance, so its current has no limit: "
        "give one of them a resistance."
    )


def test_a_source_on_one_node(found):
    finding = only(found(rm.Source("V2", "B", "B", volts=5)))
    assert finding.sentence.startswith(
        "V2 has no resistance and both its ends are on one node: give"
    )


def test_loads_that_get_too_few_volts(found):
    far = (rm.Resistor("R2", "RAW", "B", ohms=1e4), rm.Load("L2", "B", "0V", amps=0.1))
    finding = only(found(*FEED, *far))
    assert (finding.kind, finding.refs) == ("collapsed", ("L2",))
    assert finding.sentence == "L2 gets too few volts to draw the full current."
    more = (rm.Resistor("R3", "RAW", "C", ohms=1e4), rm.Load("L3", "C", "0V", watts=5))
    finding = only(found(*FEED, *far, *more))
    assert finding.sentence == "L2 and L3 get too few volts to draw the full current."


def test_what_a_regulator_takes_itself_is_no_load(found):
    findings = found(
        rm.Source("V1", "IN", "0V", volts=0.2, ohms=1),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=5, quiescent_amps=0.005),
        rm.Resistor("R1", "OUT", "0V", ohms=100),
    )
    assert "collapsed" not in [f.kind for f in findings]


REGULATED = {
    "holds": (20, {}, False),
    "drops out": (6, {}, True),
    "at its limit": (20, {"limit_amps": 0.01}, False),
    "has no input": (0, {}, False),
    "fed backwards": (-20, {}, False),
}


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("name", REGULATED)
def test_regulators_that_drop_out(found, name, sign):
    volts, more, says = REGULATED[name]
    findings = found(
        rm.Source("V1", "IN", "0V", volts=sign * volts, ohms=1),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=sign * 5, **more),
        rm.Resistor("R1", "OUT", "0V", ohms=100),
    )
    kinds = [f.kind for f in findings]
    assert kinds == (["drop-out"] if says else [])
    if says:
        assert findings[0].refs == ("U1",)
        assert findings[0].sentence == (
            f"U1 drops out altogether: its input is too low to hold {sign * 5} V."
        )


def test_a_regulator_that_is_out_does_not_drop_out(found):
    parts = (
        rm.Source("V1", "IN", "0V", volts=6, ohms=1),
        rm.Regulator("U1", "IN", "OUT", "0V", volts=5),
        rm.Resistor("R1", "OUT", "0V", ohms=100),
        rm.Resistor("R2", "OUT", "IN", ohms=100),
    )
    assert found(*parts, change=rm.what_if(U1=rm.OPEN)) == ()


def supply(volts_rms, *more):
    return (
        rm.Winding("T1", "X", "Y", volts_rms=volts_rms, ohms=1),
        rm.Bridge("B1", "X", "Y", "P", "0V"), rm.Capacitor("C1", "P", "0V", farads=470e-6),
        rm.Regulator("U1", "P", "Q", "0V", volts=12, dropout_volts=2),
        rm.Load("L1", "Q", "0V", amps=0.25), *more,
    )  # fmt: skip


# Own example: 13 V rms less two junctions and the copper leave a top of 16.5 V, which holds 12 V
# with 2 V to spare, and 4.6 V of valley, which does not; 9 V rms never holds it, 20 V rms always.
@pytest.mark.parametrize(
    ("volts_rms", "when"), [(13, "in the valleys of the ripple"), (9, "altogether"), (20, "")]
)
def test_a_regulator_drops_out_altogether_only_if_its_top_is_short(found, volts_rms, when):
    sentences = [f.sentence for f in found(*supply(volts_rms)) if f.kind == "drop-out"]
    if when:
        assert sentences == [f"U1 drops out {when}: its input is too low to hold 12 V."]
    else:
        assert sentences == []


def test_a_negative_regulator_drops_out_in_the_valleys(found):
    findings = found(
        rm.Winding("T1", "X", "Y", volts_rms=13, ohms=1), rm.Bridge("B1", "X", "Y", "0V", "N"),
        rm.Capacitor("C1", "0V", "N", farads=470e-6),
        rm.Regulator("U1", "N", "Q", "0V", volts=-12, dropout_volts=2),
        rm.Load("L1", "0V", "Q", amps=0.25),
    )  # fmt: skip
    sentence = "U1 drops out in the valleys of the ripple: its input is too low to hold -12 V."
    assert only(findings).sentence == sentence


IDEAL = rm.Winding("T1", "A", "0V", volts_rms=20)
LOOPS = {
    "two windings": (IDEAL, rm.Winding("T2", "A", "0V", volts_rms=20)),
    "a winding and a link": (IDEAL, rm.Link("K1", "A", "0V")),
    "a winding on one node": (rm.Winding("T1", "A", "A", volts_rms=20),),
    "a winding and a source": (IDEAL, rm.Source("V1", "A", "0V", volts=5)),
}


@pytest.mark.parametrize("name", LOOPS)
def test_a_contradiction_of_windings(found, name):
    resistor = rm.Resistor("R1", "A", "0V", ohms=10)
    finding = only(found(*LOOPS[name], resistor))
    assert finding.kind == "contradiction"
    assert set(finding.refs) == {part.ref for part in LOOPS[name]}
    for ref in finding.refs:
        assert ref in finding.sentence
