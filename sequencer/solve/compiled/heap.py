"""One heap for all questions, each above the one that asked."""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner
from sequencer.solve.compiled.layout import FULL, HEAP, STATE, TARGETS, TOP
from sequencer.solve.compiled.rows import Whole

ENTRY = np.uint64((1 << 24) - 1)
DEEP = np.uint64((1 << 20) - 1)
S24, S44 = np.uint64(24), np.uint64(44)


@inner
def push(b: Any, f: Whole, depth: Whole, e: Whole) -> None:
    """Into the heap: least f first, then the deepest."""
    heap = b.heap
    base, top = b.ints[HEAP], b.ints[TOP]
    key = np.uint64(f) << S44 | (DEEP - np.uint64(depth)) << S24 | np.uint64(e)
    at = top - base
    b.ints[TOP] = top + 1
    if top + TARGETS + 2 >= heap.size:  # what one state offers still fits
        b.ints[STATE] = FULL
    while at:
        up = (at - 1) >> 1
        if heap[base + up] <= key:
            break
        heap[base + at] = heap[base + up]
        at = up
    heap[base + at] = key


@inner
def pop(b: Any) -> Any:
    """The first key of the heap."""
    heap = b.heap
    base = b.ints[HEAP]
    top = b.ints[TOP] - 1
    b.ints[TOP] = top
    first, key = heap[base], heap[top]
    size = top - base
    at = 0
    while True:
        down = 2 * at + 1
        if down >= size:
            break
        if down + 1 < size and heap[base + down + 1] < heap[base + down]:
            down += 1
        if key <= heap[base + down]:
            break
        heap[base + at] = heap[base + down]
        at = down
    heap[base + at] = key
    return first
