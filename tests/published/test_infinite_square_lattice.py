"""Resistance between nodes of the infinite square lattice of one ohm.

Sources, both from memory: D. Atkinson and F. J. van Steenwijk, "Infinite resistive lattices",
American Journal of Physics 67 (1999) 486; J. Cserti, "Application of the lattice Green's function
for calculating the resistance of an infinite network of resistors", American Journal of Physics 68
(2000) 896. The values were recomputed from their integral to 15 digits.

No finite map is infinite. A square piece with its rim left alone has more resistance than the whole
lattice, and one with its rim joined to a single node has less, for taking a conductor away cannot
lower a resistance nor adding one raise it (Rayleigh's law). Both miss by a part that falls as one
over the square of the width, alike in size and opposite in sign, so that in their mean, weighted by
the squares, only a part remains that falls as its fourth power. Own finding by solving sides of 21
to 61; at the side used here it leaves 1.8e-3 of each, and 5.5e-6 of the mean, at most.
"""

import math

import pytest

SIDE = 51
WIDTH_FREE, WIDTH_JOINED = SIDE, SIDE - 1

LATTICE = [
    ((1, 0), 0.5),
    ((1, 1), 2 / math.pi),
    ((2, 0), 2 - 4 / math.pi),
    ((2, 1), 4 / math.pi - 0.5),
    ((2, 2), 8 / (3 * math.pi)),
]


def square(joined_rim: bool) -> list[tuple[str, str, float]]:
    middle = SIDE // 2

    def name(x: int, y: int) -> str:
        on_rim = x in (0, SIDE - 1) or y in (0, SIDE - 1)
        return "rim" if joined_rim and on_rim else f"{x - middle},{y - middle}"

    spots = [(x, y) for x in range(SIDE) for y in range(SIDE)]
    pairs = [((x, y), (x + 1, y)) for x, y in spots if x + 1 < SIDE]
    pairs += [((x, y), (x, y + 1)) for x, y in spots if y + 1 < SIDE]
    named = [(name(*one), name(*other), 1.0) for one, other in pairs]
    return [edge for edge in named if edge[0] != edge[1]]


@pytest.mark.parametrize(("spot", "ohms"), LATTICE)
def test_square_lattice(ohms_between, spot, ohms):
    there = f"{spot[0]},{spot[1]}"
    above = ohms_between(square(joined_rim=False), there, "0,0")
    below = ohms_between(square(joined_rim=True), there, "0,0")
    assert below < ohms < above
    assert (below, above) == pytest.approx((ohms, ohms), abs=2e-3)
    weights = WIDTH_JOINED**2, WIDTH_FREE**2
    mean = (weights[0] * below + weights[1] * above) / sum(weights)
    assert mean == pytest.approx(ohms, abs=1e-5)
