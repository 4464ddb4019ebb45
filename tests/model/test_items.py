"""Boards, rails and setups by themselves."""

import pytest

import railmap as rm
from railmap.errors import MapError
from railmap.model.railmap import About


def test_a_board_has_a_name_and_a_size() -> None:
    assert rm.Board("Main", 160, 100).ambient_c is None
    with pytest.raises(MapError, match=r"^the board's name must not be empty$"):
        rm.Board("", 160, 100)
    with pytest.raises(MapError, match=r"^height_mm must be above 0, is 0$"):
        rm.Board("Main", 160, 0)


def test_a_rail_is_called_by_its_name_or_its_node() -> None:
    assert rm.Rail("A", "+12").title == "+12"
    assert rm.Rail("A").title == "A"
    with pytest.raises(MapError, match=r"^the rail's node must not be empty$"):
        rm.Rail("")
    with pytest.raises(MapError, match=r"^the rail's name ' 12' must not begin"):
        rm.Rail("A", " 12")


@pytest.mark.parametrize(("label", "band"), [(12.0, (10.8, 13.2)), (-30.0, (-33.0, -27.0))])
def test_the_band_lies_around_the_label(label: float, band: tuple[float, float]) -> None:
    assert rm.Rail("A", label_volts=label).band_volts == pytest.approx(band)


def test_a_rail_without_a_label_has_no_band() -> None:
    assert rm.Rail("A").band_volts is None


def test_a_setup_has_a_name_and_mains_above_nothing() -> None:
    assert rm.Setup().name == "as used"
    with pytest.raises(MapError, match=r"^the setup's name must not be empty$"):
        rm.Setup(name="")
    with pytest.raises(MapError, match=r"^mains_volts must be above 0, is 0$"):
        rm.Setup(mains_volts=0)


def test_design_mains_is_above_nothing() -> None:
    assert About().mains_volts == 230
    with pytest.raises(MapError, match=r"^mains_hertz must be above 0, is -50$"):
        About(mains_hertz=-50)
