"""Kernels for sequencing: walks with memories, their bounds, and the sweep over sets of nodes.

A *node* is made at one *place* of the order. Arcs run from node to node, those out of `b` are numbered
`out[b] : out[b + 1]`. What a node rules out is a set of *marks*: making `b` leaves the marks `leaves[b]`, and
`a` cannot come once one of the marks `barred[a]` stands. A walk knows only the marks that its node's memory
holds: `held[begin[b] : begin[b + 1]]`; the subset it knows is a number, bit i for the i-th of them. Tables of
walks have one row for each place and one column for each node and subset, from `base[b]` on, and a last one
for each node that stands for "barred".
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sequencer.solve.compiled import FAR_64, inner, kernel

Ints = npt.NDArray[np.int64]
Small = npt.NDArray[np.int32]
Words = npt.NDArray[np.uint64]


@inner
def stands(words: Words, row: int, mark: int) -> bool:
    """Whether a mark stands in a row of words."""
    return bool(words[row, mark >> 6] >> np.uint64(mark & 63) & np.uint64(1))


@kernel
def learn(
    out: Ints,
    head: Small,
    leaves: Words,
    barred: Words,
    begin: Ints,
    held: Small,
    at: Ints,
    known: Small,
    becomes: Ints,
) -> None:
    """Fill `known`: what each subset known at an arc's tail becomes at its head, from `at[arc]` on.

    `becomes` is room to work in, one place for each mark of a memory.
    """
    for b in range(len(out) - 1):
        width = begin[b + 1] - begin[b]
        for arc in range(out[b], out[b + 1]):
            a = head[arc]
            first, room = begin[a], begin[a + 1] - begin[a]
            left = 0
            for i in range(room):
                mark = held[first + i]
                if stands(leaves, b, mark):
                    left |= 1 << i
            bars = 0
            for j in range(width):
                becomes[j] = 0
                mark = held[begin[b] + j]
                if stands(barred, a, mark):
                    bars |= 1 << j
                for i in range(room):
                    if held[first + i] == mark:
                        becomes[j] = 1 << i
            for subset in range(1 << width):
                if subset & bars:
                    known[at[arc] + subset] = 1 << room
                    continue
                onto = left
                for j in range(width):
                    if subset >> j & 1:
                        onto |= becomes[j]
                known[at[arc] + subset] = onto


@kernel
def walk_back(
    out: Ints,
    head: Small,
    price: Ints,
    fits: npt.NDArray[np.bool_],
    base: Ints,
    at: Ints,
    known: Small,
    rest: Ints,
) -> None:
    """Fill `rest`: the cheapest walk from each place, node and subset to the last place, by `price` of arcs."""
    places = len(fits)
    for k in range(places - 1, -1, -1):
        for b in range(len(out) - 1):
            first, size = base[b], base[b + 1] - base[b] - 1
            for subset in range(size + 1):
                rest[k, first + subset] = 0 if k == places - 1 and fits[k, b] and subset < size else FAR_64
            if k == places - 1 or not fits[k, b]:
                continue
            for arc in range(out[b], out[b + 1]):
                a = head[arc]
                if not fits[k + 1, a]:
                    continue
                paid, onto, step = price[arc], base[a], at[arc]
                for subset in range(size):
                    cost = paid + rest[k + 1, onto + known[step + subset]]
                    if cost < rest[k, first + subset]:
                        rest[k, first + subset] = cost


@kernel
def sift(
    out: Ints,
    head: Small,
    enter: Ints,
    price: Ints,
    base: Ints,
    at: Ints,
    known: Small,
    rest: Ints,
    limit: int,
    fits: npt.NDArray[np.bool_],
    useful: npt.NDArray[np.bool_],
    paths: Ints,
) -> None:
    """Tell which nodes fit which place and which arcs are useful in a walk of at most `limit`.

    The cheapest walk through a node at a place, or along an arc, is the cheapest way to it, kept here place by
    place in the two rows of `paths`, and the cheapest way on, which `rest` has. Orders are walks, so what is
    dropped is in no order as cheap.
    """
    wide = base[-1]
    reached, onward = paths[0], paths[1]
    for column in range(wide):
        onward[column] = FAR_64
    for b in range(len(out) - 1):
        if fits[0, b]:
            onward[base[b]] = enter[b]
    for k in range(len(rest)):
        reached, onward = onward, reached
        for column in range(wide):
            onward[column] = FAR_64
        for b in range(len(out) - 1):
            if not fits[k, b]:
                continue
            fits[k, b] = False
            first, size = base[b], base[b + 1] - base[b] - 1
            for subset in range(size):
                paid = reached[first + subset]
                if paid + rest[k, first + subset] > limit:
                    continue
                fits[k, b] = True
                if k == len(rest) - 1:
                    break
                for arc in range(out[b], out[b + 1]):
                    to = base[head[arc]] + known[at[arc] + subset]
                    cost = paid + price[arc]
                    if cost + rest[k + 1, to] <= limit:
                        useful[arc] = True
                        if cost < onward[to]:
                            onward[to] = cost


@kernel
def spread(
    out: Ints,
    head: Small,
    price: Ints,
    base: Ints,
    begin: Ints,
    held: Small,
    rest: Ints,
    leaves: Words,
    barred: Words,
    needs: Words,
    limit: int,
    stood: Words,
    last: Small,
    paid: Ints,
    start: int,
    slots: Small,
    new_stood: Words,
    new_last: Small,
    new_paid: Ints,
    new_promise: Ints,
    new_parent: Small,
    count: int,
    effort: int,
    marks: Words,
) -> tuple[int, int]:
    """Make one more node from each state `start` and on, until `effort` arcs are tried or there is no more room.

    A state is the set of marks that stand and the last node. `rest` is the row of the next place. Equal states
    are kept once, with the least paid, found through the hash table `slots`; `marks` is room for those of one
    state. Returns the first state not spread and the number of new states.
    """
    words = stood.shape[1]
    full = len(slots) - 1
    state = start
    while state < len(last) and effort > 0:
        b = last[state]
        if count + out[b + 1] - out[b] > len(new_last):
            break
        effort -= out[b + 1] - out[b] + 1
        for arc in range(out[b], out[b + 1]):
            a = head[arc]
            cost = paid[state] + price[arc]
            ready = True
            for w in range(words):
                if stood[state, w] & barred[a, w] or needs[a, w] & ~stood[state, w]:
                    ready = False
                    break
            if not ready:
                continue
            column = base[a]
            for i in range(begin[a], begin[a + 1]):
                mark = held[i]
                if stands(stood, state, mark):
                    column += 1 << (i - begin[a])
            promise = cost + rest[column]
            if promise > limit:
                continue
            key = np.uint64(a) * np.uint64(0x9E3779B97F4A7C15)
            for w in range(words):
                marks[w] = stood[state, w] | leaves[a, w]
                key = (key ^ marks[w]) * np.uint64(0xFF51AFD7ED558CCD)
                key ^= key >> np.uint64(32)
            slot = np.int64(key & np.uint64(full))
            while True:
                found = slots[slot] - 1
                if found < 0:
                    slots[slot] = count + 1
                    for w in range(words):
                        new_stood[count, w] = marks[w]
                    new_last[count] = a
                    new_paid[count] = cost
                    new_promise[count] = promise
                    new_parent[count] = state
                    count += 1
                    break
                same = new_last[found] == a
                for w in range(words):
                    same = same and new_stood[found, w] == marks[w]
                if same:
                    if cost < new_paid[found]:
                        new_paid[found] = cost
                        new_promise[found] = promise
                        new_parent[found] = state
                    break
                slot = (slot + 1) & full
        state += 1
    return state, count


@kernel
def rehash(slots: Small, stood: Words, last: Small, count: int) -> None:
    """Enter the first `count` states into an empty hash table."""
    full = len(slots) - 1
    for state in range(count):
        key = np.uint64(last[state]) * np.uint64(0x9E3779B97F4A7C15)
        for w in range(stood.shape[1]):
            key = (key ^ stood[state, w]) * np.uint64(0xFF51AFD7ED558CCD)
            key ^= key >> np.uint64(32)
        slot = np.int64(key & np.uint64(full))
        while slots[slot]:
            slot = (slot + 1) & full
        slots[slot] = state + 1


@inner
def exchange(enter: Ints, cost: Ints, after: Words, order: Ints, held: Words, moved: Ints) -> int:
    """Exchange neighbouring stretches of an order while that pays; returns its cost.

    For each place the best exchange that begins there is made. `after[a]` has the bits of the nodes that cannot
    come before a; `held` and `moved` are room to work in.
    """
    count, words = len(order), after.shape[1]
    again = True
    while again:
        again = False
        for i in range(count - 1):
            head = order[i]
            best, middle, end = 0, i, i
            for w in range(words):
                held[0, w] = 0  # what cannot come before the first stretch
            for j in range(i + 1, count):
                tail, second = order[j - 1], order[j]
                for w in range(words):
                    held[0, w] |= after[tail, w]
                if i == 0:
                    saved = enter[head] + cost[tail, second] - enter[second]
                else:
                    saved = cost[order[i - 1], head] + cost[tail, second] - cost[order[i - 1], second]
                for k in range(j + 1, count + 1):
                    last = order[k - 1]
                    if stands(held, 0, last):
                        break
                    gain = saved - cost[last, head]
                    if k < count:
                        gain += cost[last, order[k]] - cost[tail, order[k]]
                    if gain > best:
                        best, middle, end = gain, j, k
            if best:
                swap(order, i, middle, end, moved)
                again = True
    total = int(enter[order[0]])
    for i in range(1, count):
        total += cost[order[i - 1], order[i]]
    return total


@inner
def swap(order: Ints, begin: int, middle: int, end: int, moved: Ints) -> None:
    """Exchange two neighbouring stretches."""
    for i in range(begin, end):
        moved[i] = order[i + middle - begin if i < begin + end - middle else i - (end - middle)]
    for i in range(begin, end):
        order[i] = moved[i]


@kernel
def shake(
    enter: Ints,
    cost: Ints,
    after: Words,
    order: Ints,
    places: Ints,
    shares: npt.NDArray[np.float64],
    held: Words,
    moved: Ints,
    now: Ints,
    trial: Ints,
    at: Ints,
) -> int:
    """Exchange stretches as told and better the order again, as often as told; returns the cost of the best.

    `places[s, i]` says where the i-th exchange of shake s begins, meets and ends; those that precedence forbids
    are left out. A dearer order is gone on from if it costs less than the share `shares[s]` of the best more.
    `order` becomes the best one; `now` and its cost, in `at`, are where a further call goes on (a cost below nothing:
    begin); the others of the last five are room to work in.
    """
    count = len(order)
    least = exchange(enter, cost, after, order, held, moved)
    if at[0] < 0:
        at[0] = least
        for i in range(count):
            now[i] = order[i]
    for s in range(len(places)):
        for i in range(count):
            trial[i] = now[i]
        for e in range(places.shape[1]):
            begin, middle, end = places[s, e, 0], places[s, e, 1], places[s, e, 2]
            free = True
            for i in range(begin, middle):
                for j in range(middle, end):
                    free = free and not stands(after, trial[i], trial[j])
            if free:
                swap(trial, begin, middle, end, moved)
        paid = exchange(enter, cost, after, trial, held, moved)
        if paid - at[0] <= 0 or paid - least < shares[s] * least:
            at[0] = paid
            for i in range(count):
                now[i] = trial[i]
        if paid < least:
            least = paid
            for i in range(count):
                order[i] = trial[i]
    return least
