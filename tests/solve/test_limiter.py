"""A lamp in series with the mains, against the loop worked out by hand and against resistors."""

import numpy as np
import pytest
from scipy.optimize import brentq

import railmap as rm

MAINS, WATTS = 230.0, 60.0


def lamp_amps(volts: float) -> float:
    """Return the current of the lamp: volts to the power 0.55."""
    return WATTS / MAINS * (volts / MAINS) ** 0.55


def supply(*parts: rm.Part) -> rm.RailMap:
    m = rm.RailMap(mains_volts=MAINS)
    for part in parts:
        m.add(part)
    return m


def test_a_resistor_behind_a_transformer_and_a_lamp_by_hand():
    # The lamp and the load, 21 ohms seen through ten to one, are in one loop with the mains.
    m = supply(
        rm.Winding("T1", "A", "0V", volts_rms=23, ohms=1), rm.Resistor("R1", "A", "0V", ohms=20)
    )
    volts = brentq(lambda v: (MAINS - v) / 2100 - lamp_amps(v), 1e-3, MAINS - 1e-3)
    s = rm.solve(m, change=rm.what_if(limiter_watts=WATTS))
    assert s.lamp is not None
    assert s.lamp.volts_rms == pytest.approx(volts, rel=1e-6)
    assert s.lamp.amps_rms == pytest.approx(lamp_amps(volts), rel=1e-6)
    assert s.lamp.watts == pytest.approx(volts * lamp_amps(volts), rel=1e-6)
    assert s.volts_rms("A") == pytest.approx((MAINS - volts) / 10 * 20 / 21, rel=1e-6)
    assert s.part("T1").watts == pytest.approx(s.part("R1").watts / 20, rel=1e-6)
    assert "takes 35.1 V" in s.message


def rectified(*, ohms: float, load: float) -> rm.RailMap:
    return supply(
        rm.Winding("T1", "A", "B", volts_rms=18.5, ohms=ohms),
        rm.Bridge("B1", "A", "B", "P", "0V"),
        rm.Capacitor("C1", "P", "0V", farads=0.0022, esr_ohms=0.05),
        rm.Resistor("R1", "P", "0V", ohms=load),
    )


@pytest.mark.parametrize("load", [30.0, 300.0])
def test_within_a_turn_it_is_a_resistor_in_the_winding(load):
    s = rm.solve(rectified(ohms=1, load=load), change=rm.what_if(limiter_watts=WATTS))
    seen = s.lamp.volts_rms / s.lamp.amps_rms * (18.5 / MAINS) ** 2
    alike = rm.solve(rectified(ohms=1 + seen, load=load))
    assert s.volts("P") == pytest.approx(alike.volts("P"), rel=1e-6)
    assert s.ripple("P").volts_pp == pytest.approx(alike.ripple("P").volts_pp, rel=1e-5)
    assert s.power_in == pytest.approx(s.power_out, rel=1e-6)
    both = alike.part("T1").watts
    assert s.part("T1").watts + s.lamp.watts == pytest.approx(both, rel=1e-5)


def test_one_supply_pulls_the_other_down():
    m = supply(
        rm.Winding("T1", "A", "0V", volts_rms=23, ohms=1),
        rm.Winding("T2", "B", "0V", volts_rms=46, ohms=2),
        rm.Resistor("R1", "A", "0V", ohms=1000), rm.Resistor("R2", "B", "0V", ohms=30),
    )  # fmt: skip
    lamp = {"limiter_watts": 100}
    whole, light = (
        rm.solve(m, change=rm.what_if(R2=ohms, **lamp)).volts_rms("A") for ohms in (30, 3000)
    )
    assert whole < 0.75 * light
    assert rm.solve(m).volts_rms("A") == pytest.approx(23 * 1000 / 1001, rel=1e-9)


def test_a_short_lights_the_lamp_fully_and_a_bigger_lamp_gives_more_way():
    m = rectified(ohms=1, load=100)
    short = rm.solve(m, change=rm.what_if(limiter_watts=WATTS, C1=rm.SHORT))
    good = rm.solve(m, change=rm.what_if(limiter_watts=WATTS))
    assert short.lamp.watts > 0.6 * WATTS > 3 * good.lamp.watts
    lamps = [rm.solve(m, change=rm.what_if(limiter_watts=w)).volts("P") for w in (25, 60, 200)]
    assert lamps == sorted(lamps)
    assert lamps[-1] < rm.solve(m).volts("P")


def test_a_winding_without_resistance():
    m = supply(rm.Winding("T1", "A", "0V", volts_rms=23), rm.Resistor("R1", "A", "0V", ohms=20))
    s = rm.solve(m, change=rm.what_if(limiter_watts=WATTS))
    assert s.volts_rms("A") < 20
    assert s.power_in == pytest.approx(s.power_out, rel=1e-9)


def test_together_as_alone_and_by_setup():
    m = rectified(ohms=1, load=50)
    changes = [rm.what_if(), *(rm.what_if(limiter_watts=w) for w in (25, 60, 100))]
    many = rm.solve_many(m, changes)
    alone = [rm.solve(m, change=change) for change in changes]
    assert many.volts("P") == pytest.approx([s.volts("P") for s in alone], rel=1e-5)
    assert many.part("T1").watts == pytest.approx([s.part("T1").watts for s in alone], rel=1e-4)
    by_setup = rm.solve(m, setup=rm.Setup(name="first power", limiter_watts=60))
    assert by_setup.volts("P") == pytest.approx(alone[2].volts("P"), rel=1e-9)
    assert np.isfinite(by_setup.stress[~np.isnan(by_setup.stress)]).all()


def test_a_lamp_of_nothing_is_refused():
    with pytest.raises(rm.MapError, match="lamp limiter must have above 0"):
        rm.solve(rectified(ohms=1, load=50), change=rm.what_if(limiter_watts=0))
