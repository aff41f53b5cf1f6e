"""Patterns laid out as flat arrays for the kernels, and the memory their searches share.

Few arrays compile quickly, so everything of one type stands in one of them. `ints` holds the tables of wheels
(eased dials), patterns, what they heed, and kinds of lots as records of whole numbers; their places are the
constants below, a record is named by where it begins. `bits` holds lots as rows of words of 64. Each state seen is an
*entry*: its lots left are a row of `rest`, its values and what is known of it a row of `info`; a hash table leads from
pattern, lots left and values to the entry. One question at a time searches a pattern, so what belongs to a
search (depth, parent) stands in the entries too, told apart by the number of the search; and questions nest like
calls, so all searches share one heap, each above the one that asked. States that were opened stand on shelves by
pattern and values, too (`outdone`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from itertools import pairwise
from operator import or_
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sequencer.solve.bounds.heeded import Heeded
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.stops import Stops
from sequencer.solve.bounds.wheels import Wheel
from sequencer.solve.compiled import FAR_32
from sequencer.solve.problem import FAR
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor

ENTRIES = 1 << 24
"""Entries the heap can tell apart."""

BYTES = 1_300_000_000
"""What the entries may take of memory."""

STEPS = 100_000_000
"""Numbers the steps that are kept may take."""

SHELVES = 1 << 14
"""Shelves on which states are found again by pattern and values. With more of them the many boards that
choices need touch more pages of memory, and jobs of 60 lots take up to twice as long.
"""

PLACES = 512
"""States that stand on one shelf at most, a power of two."""

SHELVING = 24_000_000
"""Words that all shelves may take."""

TARGETS = 4096
"""Moves one state may offer."""

ABSORBED = 500
"""Lots up to which those that others cover are struck out in every state; with more that takes longer than it saves,
and they are left out once for all.
"""

# the first places of `ints`: counters, then where tables and scratch rows begin, and the count of states that ends
# a question
COUNT, HEAP, TOP, TRAIL, SEARCH, STATE, BITS, OPENED, STOP, NEWS, GOAL, LOOK, LIMIT, KEEP = range(14)
AHEAD, TO, PAID, CHILD, MADE, OPTION, OPTIONS, NOW, ROWS, ROOM = range(14, 24)
# the first word of those in which the row of a state says which of the lots made may be revoked (`stopping`); where
# the next shelf of states may begin (`outdone`)
OPEN, SHELVED = 24, 25
TABLES = 32
# values of ints[STATE]
WELL, STOPPED, SPENT, FULL = range(4)
# a wheel. GAINS: for each value left, NOTHING last, and each stopped at, the row of lots that this helps, or -1; HELPS:
# for each value the row of those that stopping there can help
VALUES, FLAT, LEVEL, PLAIN, STATION, COST, ACCEPT, SERVES, ONLY, NAMED, GAINS, HELPS = range(12)
# what a pattern heeds: the row of lots that this concerns, that of lots never free, where the wishes of each lot begin
# and (pairs of lot and price) end, the number of groups of mates, their first row, dials each holds (by their place
# in the pattern), those of them that some mate does not name; the row of lots that are made for now only (or 0), that
# of lots that stay made where one that they wait for is revoked
BINDS, TIED, WISHES, GROUPS, GROUP, HELD, LOOSE, REVOCABLE, FIRM = range(9)
# a pattern (RULED: what it heeds, or 0); then its wheels. GUIDES is where the records of its kids begin: pattern,
# whether it is the last of a partition, where its dials stand; HELPED is the first kid of the partition that helped
# last; WATCH is where two rows for each lot begin and BESIDE where one number does: what decided last whether it is
# struck out (`absorbed`)
NUMBER, DIALS, WALK, KIDS, GUIDES, HELPED, EASED, ABSORBS, RULED, MINE, LIKE, KIND = range(12)
WATCH, BESIDE, WHEEL = range(12, 15)
GUIDE = 2
# a kind of lot: how many needs; for each the dial, first and last value worth moving to; then when it was last looked
# at, and the row of lots that are at least as demanding
NEED = 3
# an entry: its pattern, its hash, what the rest costs at least (LEAST), and whether it costs no more (EXACT, 1 or 0);
# of its last search the number, depth, parent, lot made first on the way here, search that opened it; where its steps
# are kept; its shelf; entries of the first kids; values
PATTERN, HASH, LEAST, EXACT, MINDED, DEPTH, PARENT, VIA, SHUT, KEPT, SHELF, KID = range(12)
NOTED = 6
VALUE = KID + NOTED

Words = NDArray[np.uint64]
Ints = NDArray[np.int64]
Small = NDArray[np.int32]


class Board(NamedTuple):
    """What kernels read and write."""

    ints: Ints
    bits: Words  # rows x words
    rest: Words  # entries x words
    info: Small  # entries x (VALUE + dials)
    table: Small  # places of entries, one more
    heap: Words
    trail: Small
    shelves: Words  # of each where it begins, and how many were put on it; then on the shelf: lots left, folded; entry
    steps: Small  # of states opened before: how many; entry reached, cost, lot made first


class Layout:
    """The patterns of one floor on a board that grows as patterns are put on it."""

    def __init__(self, floor: Floor, unit: int = 1, entries: int = ENTRIES) -> None:
        """`unit` divides all costs; `entries`: no room for more than these."""
        self.floor = floor
        self.unit = unit
        self.count = floor.count
        lots = max(1, (self.count + 63) // 64)
        self.words = q = lots * (1 if floor.every == floor.free else 2)
        self.dials = d = floor.walking + 1
        self.patterns: list[Pattern] = []
        self.at: list[int] = []  # where the record of each pattern begins
        self._wheel_at: dict[int, int] = {}
        self._rows = self._ints = 0
        entries = min(entries, ENTRIES, BYTES // (8 * q + 4 * (VALUE + d) + 8))
        table = 1 << (2 * entries - 1).bit_length()
        self.board = Board(
            ints=np.zeros(200_000, np.int64),
            bits=np.zeros((4_000, q), np.uint64),
            rest=np.empty((entries, q), np.uint64),
            info=np.empty((entries, VALUE + d), np.int32),
            table=np.zeros(table, np.int32),
            heap=np.empty(4 * ENTRIES, np.uint64),
            trail=np.empty(2 * ENTRIES, np.int32),
            shelves=np.zeros(SHELVES + SHELVING, np.uint64),
            steps=np.empty(STEPS, np.int32),
        )
        self._ints = TABLES
        self.clear()
        self.board.ints[ROOM] = ENTRIES
        self.board.ints[OPEN] = lots
        most = max(knob.values for knob in floor.knobs) + 2
        scratch = {TO: TARGETS * d, PAID: TARGETS, CHILD: TARGETS, MADE: TARGETS}
        scratch |= {OPTION: d * most, OPTIONS: d + 1, NOW: 6 * d}
        for place, size in scratch.items():
            self.board.ints[place] = self._reserve(size)
        self.board.ints[OPTIONS] += 1
        self.board.ints[self.board.ints[OPTIONS] - 1] = most
        self._lots()

    def clear(self) -> None:
        """Forget all states."""
        board, ints = self.board, self.board.ints
        board.table[: 1 << int(ints[BITS])] = 0
        ints[[COUNT, HEAP, TOP, TRAIL, SEARCH, OPENED]] = 0
        ints[BITS] = min(14, board.table.size.bit_length() - 1)
        ints[KEEP] = 1
        if ints[SHELVED] > SHELVES:  # else they are empty, and on no page yet
            board.shelves[:SHELVES] = 0
        ints[SHELVED] = SHELVES

    def _lots(self) -> None:
        """Precedence between lots, and scratch rows."""
        floor = self.floor
        self._row(list(floor.before))
        ahead = self._row([after | 1 << item for item, after in enumerate(floor.after)])
        rows = self._row([0] * 9)
        self.board.ints[[AHEAD, ROWS]] = ahead, rows

    def _rules(self, rules: Heeded) -> int:
        """Where the record of what a pattern heeds begins; 0 for nothing."""
        if not rules:
            return 0
        wishes: list[int] = []
        first = []
        for item in range(self.count):
            first.append(len(wishes))
            for wish in rules.wishes:
                if wish.after == item:
                    wishes += [wish.before, wish.price // self.unit]
        first.append(len(wishes))
        binds = self._row([rules.lots, rules.tied, rules.revocable, rules.firm])
        for_now = binds + 2 if rules.revocable else 0
        group = self._row([mates.lots for mates in rules.groups])
        at = self._take(wishes)
        begin = self._take([at + place for place in first])
        held = self._take([mates.held for mates in rules.groups])
        loose = self._take([mates.loose for mates in rules.groups])
        return self._take(
            [binds, binds + 1, begin, len(rules.groups), group, held, loose, for_now, binds + 3]
        )

    def _take(self, numbers: list[int]) -> int:
        """Where these numbers now stand in `ints`."""
        at = self._reserve(len(numbers))
        self.board.ints[at : self._ints] = numbers
        return at

    def _reserve(self, size: int) -> int:
        """Where there is now room for so many numbers in `ints`."""
        at = self._ints
        self._ints += size
        if self._ints > self.board.ints.size:
            larger = np.zeros(2 * self._ints, np.int64)
            larger[:at] = self.board.ints[:at]
            self.board = self.board._replace(ints=larger)
        return at

    def _row(self, masks: list[int]) -> int:
        """The first of the rows of `bits` in which these masks now stand."""
        at = self._rows
        self._rows += len(masks)
        if self._rows > len(self.board.bits):
            larger = np.zeros((2 * self._rows, self.words), np.uint64)
            larger[:at] = self.board.bits[:at]
            self.board = self.board._replace(bits=larger)
        whole = (1 << 64 * self.words) - 1
        raw = b"".join((mask & whole).to_bytes(8 * self.words, "little") for mask in masks)
        self.board.bits[at : self._rows] = np.frombuffer(raw, "<u8").reshape(len(masks), self.words)
        return at

    def _wheel(self, wheel: Wheel, plain: bool) -> int:
        """Where the record of a wheel begins."""
        if id(wheel) not in self._wheel_at:
            k = wheel.values
            cost = [FAR_32 if c >= FAR else c // self.unit for row in wheel.cost for c in row]
            accept = self._row([lots & ((1 << self.count) - 1) for lots in wheel.accept])
            serves, only = self._row(list(wheel.serves)), self._row(list(wheel.only))
            named = self._row([wheel.named])
            record = [k, wheel.price is not None, wheel.level, plain, -1 if wheel.keeps else wheel.station]
            at = self._take(cost)
            stops = self._stops(wheel.stops) if wheel.stops else (0, 0)
            self._wheel_at[id(wheel)] = self._take(
                [*map(int, record), at, accept, serves, only, named, *stops]
            )
        return self._wheel_at[id(wheel)]

    def _stops(self, stops: Stops) -> tuple[int, int]:
        """Where it stands what stops from a value at another one help, and what those at each value do."""
        places = [self._row([lots]) if lots else -1 for row in stops.gains for lots in row]
        return self._take(places), self._row(
            [reduce(or_, column) for column in zip(*stops.gains, strict=True)]
        )

    def put(
        self,
        pattern: Pattern,
        kids: tuple[int, ...] = (),
        rough: frozenset[int] | None = None,
    ) -> int:
        """The number of a pattern, put on the board with the numbers of those it was merged from. `rough`: of the
        whole, its dials that are not plain; None for a pattern of eased dials.
        """
        eased = rough is None
        wheels = [
            self._wheel(w, w.stops is None and i not in (rough or ())) for i, w in enumerate(pattern.wheels)
        ]
        absorbs = eased and self.count <= ABSORBED
        mine = self._row([pattern.named if absorbs else pattern.lots])
        kind_at = []
        for k, needs in enumerate(pattern.classes):
            reaches = [self._take(list(reach)) for _, _, reach in needs]
            record = [len(needs)]
            for (i, _, reach), at in zip(needs, reaches, strict=True):
                record += [i, at, at + len(reach)]
            like = self._row([pattern.rows[k]]) if absorbs else 0
            kind_at.append(self._take([*record, 0, like]))
        kinds = [
            kind_at[pattern.class_of[item]] if item in pattern.class_of else -1 for item in range(self.count)
        ]
        kind = self._take(kinds)
        number = len(self.patterns)
        like = self._row([pattern.with_like() if absorbs else 0])
        rules = self._rules(pattern.heeded)
        every = (1 << self.count) - 1
        record = [
            number,
            len(wheels),
            pattern.walk_at,
            0,
            0,
            0,
            int(eased),
            int(absorbs),
            rules,
            mine,
            like,
            kind,
            self._row([every, every] * self.count) if absorbs else 0,
            self._take([-1] * self.count) if absorbs else 0,
        ]
        self.at.append(self._take([*record, *wheels]))
        self.patterns.append(pattern)
        if kids:
            self.guide(number, [kids])
        return number

    def guide(self, number: int, partitions: Sequence[Sequence[int]]) -> None:
        """Let a pattern be guided by these partitions of its dials, each the numbers of patterns on them."""
        pattern, d = self.patterns[number], self.dials
        record: list[int] = []
        for kids in partitions:
            for kid in kids:
                places = [pattern.where[dial] for dial in self.patterns[kid].dials]
                record += [self.at[kid], kid == kids[-1], *places, *[0] * (d - len(places))]
        at = self._take(record)
        p, ints = self.at[number], self.board.ints
        ints[p + KIDS], ints[p + GUIDES], ints[p + HELPED] = len(record) // (GUIDE + d), at, 0
        info = self.board.info[: ints[COUNT]]
        info[info[:, PATTERN] == number, KID:VALUE] = 0  # what was noted of other kids

    def key(self, rest: int, values: tuple[int, ...]) -> tuple[Words, Ints]:
        """Lots left and values as kernels take them."""
        raw = rest.to_bytes(8 * self.words, "little")
        return np.frombuffer(raw, "<u8").copy(), np.array(values, np.int64)

    def order(self, path: list[int]) -> list[int]:
        """The lots made along entries of one pattern, in order."""
        items: list[int] = []
        info, wishes, after = self.board.info, self.floor.wish_before, self.floor.after
        for one, other in pairwise(path):
            before = self._left(one)
            first = int(info[other, VIA])
            if first >= 0:
                if not before >> first & 1:  # revoked, with what must follow it
                    gone = after[first] | 1 << first
                    before |= gone
                    items = [item for item in items if not gone >> item & 1]
                items.append(first)
                before &= ~(1 << first)
            made = before & ~self._left(other)
            while made:  # as `settle` does: a lot that should come after another one waits for it
                late = [item for item in bits(made) if any(made & wanted for wanted, _ in wishes[item])]
                for item in bits(made):
                    if item not in late and not self.floor.before[item] & made:
                        items.append(item)
                        made ^= 1 << item
        return items

    def _left(self, entry: int) -> int:
        """The lots left of an entry (mask)."""
        raw = self.board.rest[entry, : int(self.board.ints[OPEN])]
        return int.from_bytes(raw.astype("<u8").tobytes(), "little")
