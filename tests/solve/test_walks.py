"""Walks through a network never cost more than the orders they stand for.

Reference: every order of the nodes, priced by the network's own tables; that these are the problem's prices is
shown against `exhaustive` in `test_sequence`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from random import Random

import numpy as np
import pytest

from sequencer.solve.compiled import FAR_64
from sequencer.solve.one_dial.network import MOST_COST, SCALE, Network, network_of
from sequencer.solve.one_dial.walks import Walks
from sequencer.solve.relation import Relation, relation_of
from tests.solve.test_sequence import random_alternatives, random_sequence


def network(seed: int) -> Network:
    """The network of a small random problem."""
    problem = random_alternatives(seed) if seed % 2 else random_sequence(seed, 6, thick=0.2)
    relation = relation_of(problem)
    assert isinstance(relation, Relation)
    return network_of(problem, relation)


def orders(net: Network, begun: tuple[int, ...] = ()) -> Iterator[tuple[int, ...]]:
    """Every order of nodes: one of each group, none before what must come before it, no move that cannot be."""
    if len(begun) == len(net.fits):
        if cost(net, begun) < MOST_COST:
            yield begun
        return
    visited = {int(net.group[b]) for b in begun}
    for b in range(len(net.lot)):
        if int(net.group[b]) not in visited and not any(net.after[b, a] for a in begun):
            yield from orders(net, (*begun, b))


def cost(net: Network, order: tuple[int, ...]) -> int:
    """What the network's tables say of an order."""
    return int(net.enter[order[0]]) + sum(int(net.cost[a, b]) for a, b in pairwise(order))


def with_memories(net: Network, seed: int) -> Walks:
    """Walks under random prices with random memories."""
    rng = Random(seed)
    walks = Walks(net, lambda: None, lambda _: None)
    walks.prices = np.array([rng.randint(-300, 300) for _ in net.fits], dtype=np.int64)
    marks = sorted(set().union(*walks.marks))
    walks.memories = [rng.sample(marks, rng.randint(0, min(4, len(marks)))) for _ in net.lot]
    walks._lay_memories()
    return walks


@pytest.mark.parametrize("seed", range(16))
def test_what_is_left_costs_no_less_than_the_walks_say(seed: int) -> None:
    """From every state of every order on, the rest of the order costs at least what the table of walks says."""
    net = network(seed)
    walks = with_memories(net, seed)
    walks.climb(1, 1.0, 0)
    enter, _ = walks.costs(walks.prices)
    checked = 0
    for order in orders(net):
        known: set[int] = set()
        left = SCALE * cost(net, order) - walks.given - int(enter[order[0]])
        for k, b in enumerate(order):
            if k:
                earned = int(walks.prices[net.group[b]])
                left -= SCALE * int(net.cost[order[k - 1], b]) - earned
            memory = walks.memories[b]
            subset = sum(1 << i for i, mark in enumerate(memory) if mark in known)
            assert walks.rest[k, walks.base[b] + subset] <= left
            known |= walks.marks[b]
            checked += 1
        assert left == 0
    assert checked


@pytest.mark.parametrize("seed", range(16))
def test_dropped_places_and_arcs_are_in_no_cheaper_order(seed: int) -> None:
    """With a limit between the costs of the orders, every cheaper order keeps its places and arcs."""
    net = network(seed)
    priced = sorted((cost(net, order), order) for order in orders(net))
    limit = priced[len(priced) // 2][0]
    walks = with_memories(net, seed)
    walks.drop(limit)
    arcs = set(zip(walks.tail.tolist(), walks.head.tolist(), strict=True))
    for paid, order in priced:
        if paid < limit:
            assert all(walks.fits[k, b] for k, b in enumerate(order))
            assert set(pairwise(order)) <= arcs


@pytest.mark.parametrize("seed", range(16))
def test_prices_and_memories_raise_the_bound_up_to_the_least(seed: int) -> None:
    """As prices change and memories grow the bound never falls and never passes the least cost."""
    net = network(seed)
    least = min(cost(net, order) for order in orders(net))
    walks = Walks(net, lambda: None, lambda _: None)
    walks.climb(30, 1.0, least + 5)
    last = walks.top
    assert last < FAR_64
    while walks.remember(6, 1_000_000):
        walks.climb(10, 0.3, least + 5)
        assert last <= walks.top
        assert walks.bound <= least
        last = walks.top
    assert walks.bound <= least


def test_memories_see_what_prices_alone_do_not() -> None:
    """On some problems memories raise the bound that prices alone leave, on others they need not."""
    raised = 0
    for seed in range(16):
        net = network(seed)
        walks = Walks(net, lambda: None, lambda _: None)
        walks.climb(100, 1.0, 1 << 20)
        alone = walks.top
        for _ in range(5):
            if walks.remember(6, 1_000_000):
                walks.climb(30, 0.3, 1 << 20)
        assert walks.top >= alone
        raised += walks.top > alone + SCALE
    assert raised
