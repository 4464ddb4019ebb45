"""How far off a meter may be, and what it does to what it reads."""

from __future__ import annotations

from math import ceil, hypot, log10, sqrt

from railmap.model.railmap import RailMap
from railmap.model.record import Accuracy, Meter, Reading


def meter_of(m: RailMap, reading: Reading) -> Meter:
    """Return the meter of a reading; the usual one where it names none that the map keeps."""
    return m.meters.get(reading.meter) or Meter()


def resolution(accuracy: Accuracy, value: float) -> float:
    """Return what one count stands for on the range a value is read on, in its unit.

    Ranges go in decades, the lowest that holds the value being used; none is below a hundred
    thousandth of a unit.

    Examples
    --------
    A meter of three and a half digits shows 20 V as 20.0:

    >>> resolution(Accuracy(full_counts=2000), 20.0), resolution(Accuracy(full_counts=2000), 19.9)
    (0.1, 0.01)
    """
    ratio = abs(value) / accuracy.full_counts
    exponent = -5 if ratio == 0 else max(-5, ceil(log10(ratio)))
    # A value that fills the range goes to the next one; it may also miss it by a rounding.
    while abs(value) >= accuracy.full_counts * 10.0**exponent * (1 - 1e-12):
        exponent += 1
    return 10.0**exponent


def error_limit(accuracy: Accuracy, value: float) -> float:
    """Return how far off a reading may be, in its unit: percent of it plus counts.

    Examples
    --------
    >>> round(error_limit(Accuracy(pct=0.6, counts=1), 20.0), 3)
    0.22
    """
    found = accuracy.pct / 100 * abs(value) + accuracy.counts * resolution(accuracy, value)
    return max(found, accuracy.least)


def standard_of(limit: float) -> float:
    """Return the standard uncertainty that a limit stands for.

    It is taken as a rectangular distribution of that half width (JCGM 100:2008, 4.3.7).

    Examples
    --------
    >>> round(standard_of(0.05), 4)
    0.0289
    """
    return limit / sqrt(3)


def uncertainties(m: RailMap, reading: Reading) -> tuple[float, float]:
    """Return the standard uncertainties of a reading, in its unit.

    Returns
    -------
    share : float
        The part of it that is the same share of all readings of that quantity by that meter.
    alone : float
        The part that each reading has by itself: its last digits, or its floor.

    Examples
    --------
    >>> share, alone = uncertainties(RailMap(), Reading("A", volts=10.0))
    >>> round(share, 4), round(alone, 4)
    (0.0289, 0.0115)
    """
    accuracy: Accuracy = getattr(meter_of(m, reading), reading.quantity)
    share = accuracy.pct / 100 * abs(reading.value)
    alone = error_limit(accuracy, reading.value) - share
    return standard_of(share), standard_of(alone)


def uncertainty(m: RailMap, reading: Reading) -> float:
    """Return the standard uncertainty of a reading by itself, in its unit."""
    return hypot(*uncertainties(m, reading))
