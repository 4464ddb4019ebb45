"""Networks of equal resistors whose resistance is known as a fraction or a root.

Sources: the cube and the other regular bodies are classics of the textbooks, from memory; see also
F. J. van Steenwijk, "Equivalent resistors of polyhedral resistive structures", American Journal of
Physics 66 (1998) 90, from memory. R. M. Foster, "The average impedance of an electrical network",
1949, from memory: resistance seen across each resistor over its own ohms, summed, makes nodes less
one. All values are exact and were recomputed as fractions, so they do not hang on the source.
"""

import itertools
import math

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

# Body or graph: resistance by the number of edges between the two nodes, for edges of one ohm.
REGULAR = {
    "cube": (nx.cubical_graph, {1: 7 / 12, 2: 3 / 4, 3: 5 / 6}),
    "tetrahedron": (nx.tetrahedral_graph, {1: 1 / 2}),
    "octahedron": (nx.octahedral_graph, {1: 5 / 12, 2: 1 / 2}),
    "icosahedron": (nx.icosahedral_graph, {1: 11 / 30, 2: 7 / 15, 3: 1 / 2}),
    "dodecahedron": (
        nx.dodecahedral_graph, {1: 19 / 30, 2: 9 / 10, 3: 16 / 15, 4: 17 / 15, 5: 7 / 6}
    ),
    "complete graph of five": (lambda: nx.complete_graph(5), {1: 2 / 5}),
    "three wells and three houses": (
        lambda: nx.complete_bipartite_graph(3, 3), {1: 5 / 9, 2: 2 / 3}
    ),
    "Petersen graph": (nx.petersen_graph, {1: 3 / 5, 2: 4 / 5}),
    # Two edges apart 7/12, three 61/96: own recomputation as fractions.
    "cube of four dimensions": (
        lambda: nx.convert_node_labels_to_integers(nx.hypercube_graph(4)),
        {1: 15 / 32, 2: 7 / 12, 3: 61 / 96, 4: 2 / 3},
    ),
}  # fmt: skip


def one_ohm_edges(graph):
    return [(str(a), str(b), 1.0) for a, b in graph.edges]


@pytest.mark.parametrize("body", REGULAR)
def test_regular_bodies(ohms_between, exactly, body):
    make, by_distance = REGULAR[body]
    graph = make()
    edges = one_ohm_edges(graph)
    distance = dict(nx.all_pairs_shortest_path_length(graph))
    for a, b in itertools.combinations(graph.nodes, 2):
        assert ohms_between(edges, str(a), str(b)) == exactly(by_distance[distance[a][b]])


@pytest.mark.parametrize("body", REGULAR)
def test_neighbours_in_regular_bodies_by_foster(ohms_between, exactly, body):
    graph = REGULAR[body][0]()
    a, b = next(iter(graph.edges))
    found = ohms_between(one_ohm_edges(graph), str(a), str(b))
    assert found == exactly((len(graph.nodes) - 1) / len(graph.edges))


@st.composite
def connected_networks(draw):
    """Up to eight nodes hung on each other in a tree, and up to eight resistors more."""
    ohms = st.floats(-2, 6).map(lambda power: 10.0**power)
    nodes = draw(st.integers(2, 8))
    edges = [(k, draw(st.integers(0, k - 1)), draw(ohms)) for k in range(1, nodes)]
    pair = st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1))
    more = draw(st.lists(pair.filter(lambda p: p[0] != p[1]), max_size=8))
    edges += [(a, b, draw(ohms)) for a, b in more]
    return nodes, [(f"N{a}", f"N{b}", ohm) for a, b, ohm in edges]


@settings(max_examples=30)
@given(network=connected_networks())
def test_foster_on_any_network(ohms_between, exactly, network):
    nodes, edges = network
    total = sum(ohms_between(edges, a, b) / ohms for a, b, ohms in edges)
    assert total == exactly(nodes - 1)


def ladder(sections, lower_ohms):
    """Series first: one ohm along the top, ``lower_ohms`` along the bottom, one ohm across."""
    edges = []
    for k in range(sections):
        lower = "B0" if lower_ohms == 0 else f"B{k + 1}"
        edges += [(f"T{k}", f"T{k + 1}", 1.0), (f"T{k + 1}", lower, 1.0)]
        if lower_ohms:
            edges.append((f"B{k}", lower, lower_ohms))
    return edges


@pytest.mark.parametrize("sections", [1, 2, 5, 10])
def test_short_ladder_by_fibonacci(ohms_between, exactly, sections):
    # Own derivation: by induction, n sections make F(2n + 1) / F(2n) ohms, F the Fibonacci numbers.
    fibonacci = [0, 1]
    while len(fibonacci) <= 2 * sections + 1:
        fibonacci.append(fibonacci[-1] + fibonacci[-2])
    expected = fibonacci[2 * sections + 1] / fibonacci[2 * sections]
    assert ohms_between(ladder(sections, 0), "T0", "B0") == exactly(expected)


@pytest.mark.parametrize(
    ("lower_ohms", "ohms"),
    [
        # x = 1 + x / (1 + x): the golden ratio.
        (0.0, (1 + math.sqrt(5)) / 2),
        # x = 2 + x / (1 + x).
        (1.0, 1 + math.sqrt(3)),
    ],
)
def test_endless_ladder(ohms_between, exactly, lower_ohms, ohms):
    # Own derivation. What is missing shrinks by a fixed factor each section, 0.15 and 0.07, so
    # that thirty sections are as good as all.
    assert ohms_between(ladder(30, lower_ohms), "T0", "B0") == exactly(ohms)
