"""The exceptions: one base, one sentence each."""

import pickle

import pytest

from railmap.errors import FileError, MapError, NotYetError, RailmapError, UnitError


@pytest.mark.parametrize("kind", [UnitError, MapError, FileError, NotYetError])
def test_every_error_is_a_railmap_error_with_its_sentence(kind: type[RailmapError]) -> None:
    assert issubclass(kind, RailmapError)
    assert str(kind("one sentence")) == "one sentence"


def test_a_question_survives_a_trip_to_another_process() -> None:
    copied = pickle.loads(pickle.dumps(UnitError("which one", ("0R01", "10M"))))
    assert str(copied) == "which one"
    assert copied.readings == ("0R01", "10M")
