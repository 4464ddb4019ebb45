"""What only one kind of part can know of itself."""

import pytest

import railmap as rm
from railmap.errors import MapError
from railmap.model.kinds import KINDS, Law


def refusal(make: object, *args: object, **fields: object) -> str:
    with pytest.raises(MapError) as refused:
        make(*args, **fields)  # type: ignore[operator]
    return str(refused.value)


@pytest.mark.parametrize(
    ("given", "unit", "value", "law"),
    [("amps", "A", 0.1, "steady"), ("ohms", "ohm", 120, "resistive"), ("watts", "W", 5, "power")],
)
def test_a_load_is_given_one_way_and_behaves_accordingly(
    given: str, unit: str, value: float, law: Law
) -> None:
    load = rm.Load("L1", "A", "0V", **{given: value})
    assert (load.given, load.main_field, load.unit) == (given, given, unit)
    assert (load.behaviour, load.now()) == (law, value)
    lamp = rm.Load("L1", "A", "0V", **{given: value}, at_volts=12, law="lamp")
    assert lamp.behaviour == "lamp"
    assert refusal(rm.Load, "L1", "A", "0V", **{given: value}, law="lamp") == (
        f"a lamp load given in {given} needs at_volts"
    )


def test_a_load_is_given_one_way_only() -> None:
    start = "a load is given by one of amps, ohms or watts, here by "
    assert refusal(rm.Load, "L1", "A", "0V") == start + "none of them"
    assert refusal(rm.Load, "L1", "A", "0V", amps=1, watts=2) == start + "amps and watts"


@pytest.mark.parametrize(
    "part",
    [
        rm.Resistor("R1", "A", "B", ohms=1),
        rm.Zener("D1", "A", "B", zener_volts=12),
        rm.Regulator("U1", "A", "B", "C", volts=5),
        rm.Converter("U2", "A", "B", "C", volts=5),
        rm.PassTransistor("Q1", "A", "B", "C"),
    ],
)
def test_derating_falls_to_nothing_above_the_rated_temperature(part: rm.Part) -> None:
    assert part.changed(rated_c=70, zero_c=155).now("zero_c") == 155
    assert part.changed(zero_c=155).now("rated_c") is None
    sentence = f"{part.ref}: zero_c must be above rated_c (70), is 70"
    assert refusal(part.changed, rated_c=70, zero_c=70) == sentence


def test_a_zener_keeps_a_voltage_at_no_current() -> None:
    assert rm.Zener("D1", "K", "A", 12, ohms=11.9, test_amps=1).ohms == 11.9
    assert refusal(rm.Zener, "D1", "K", "A", 12, ohms=12, test_amps=1) == (
        "ohms times test_amps must be below zener_volts"
    )


@pytest.mark.parametrize("kind", [rm.Regulator, rm.Converter])
def test_a_regulator_has_a_polarity(kind: type[rm.Part]) -> None:
    assert kind("U1", "A", "B", "C", volts=-12).now() == -12
    assert refusal(kind, "U1", "A", "B", "C", volts=0) == "volts must not be 0"


def test_no_converter_makes_power() -> None:
    assert rm.Converter("U1", "A", "B", "C", 5, efficiency=1).efficiency == 1
    assert refusal(rm.Converter, "U1", "A", "B", "C", 5, efficiency=1.01) == (
        "efficiency must be above 0 and at most 1, is 1.01"
    )


def test_kinds_are_called_by_their_own_names() -> None:
    assert len({kind.__name__ for kind in KINDS}) == len(KINDS)
    assert all(kind.__struct_config__.tag == kind.__name__ for kind in KINDS)
