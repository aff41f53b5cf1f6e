"""Patterns on any dials of a floor, each made once from the same parts, whoever asks for it first."""

from __future__ import annotations

from sequencer.solve.bounds.heeded import part
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import Wheel, ease, stopping
from sequencer.solve.compiled.layout import ABSORBED
from sequencer.solve.transitions.floor import Floor


def losing(floor: Floor, walking: Wheel, *, sharp: bool = False) -> dict[int, Wheel]:
    """The dials that lose their value by leaving, as they are in patterns with walking: only where keeping the values
    of a station's dials never costs more than the walks away and back do, so that a lot at another station can still
    be left out or made early (`passing`). Lots at a station where such a dial starts at a value cannot be left out, for
    the first visit there can help (`Pattern.leading`).
    """
    found = {d: ease(floor, d, losing=True, sharp=sharp) for d in floor.forgetful}
    stations = range(walking.values)
    for s in stations:
        mine = [d for d in found if found[d].station == s]
        kept = 0
        for d in mine:
            *rows, start, _ = found[d].cost
            kept += max([0, *(cost - first for row in rows for cost, first in zip(row, start, strict=True))])
        if any(kept > walking.cost[s][t] + walking.cost[t][s] for t in stations if t != s):
            for d in mine:
                del found[d]
    return found


def _unasked() -> None:
    """Never called: these patterns are put on boards, not searched in plain Python."""


class Joining:
    """The dials of a floor, eased, and the patterns made of them so far.

    Where lots can serve as stops (`stops`), dials keep their tables, and lots of patterns are revocable (`sharp`); not
    where lots are left out once for all, since those would be missing as stops.
    """

    def __init__(self, floor: Floor, wheels: list[Wheel]) -> None:
        self.floor, self.wheels = floor, wheels
        self.sharp = sharp = floor.free != floor.every and floor.count <= ABSORBED
        if sharp:
            self.wheels = [
                wheel if wheel.price is not None else ease(floor, d, sharp=True)
                for d, wheel in enumerate(wheels)
            ]
        self._losing = losing(floor, self.wheels[-1], sharp=sharp)
        self._made: dict[tuple[tuple[int, ...], tuple[Pattern, ...]], Pattern] = {}

    def pattern(self, dials: tuple[int, ...], parts: tuple[Pattern, ...] = ()) -> Pattern:
        """The pattern on these dials, merged from patterns on some of them each if there are several."""
        made = dials, parts
        if made not in self._made:
            self._made[made] = self._single(dials[0]) if len(dials) == 1 else self._merged(dials, parts)
        return self._made[made]

    def every(self) -> Pattern:
        """A pattern on all dials, not merged from any."""
        return self._merged(tuple(range(len(self.wheels))), ())

    def _single(self, d: int) -> Pattern:
        wheels = [self.wheels[d]]
        heeded = part(self.floor, (), stopping(wheels))
        return Pattern(self.floor, wheels, (d,), (), _unasked, heeded=heeded)

    def _merged(self, dials: tuple[int, ...], parts: tuple[Pattern, ...]) -> Pattern:
        floor = self.floor
        walking = floor.knobs[floor.walking]
        wheels = []
        leading = 0
        for d in dials:
            wheels.append(self.wheels[d])
            if floor.walking in dials and d in self._losing:
                wheels[-1] = self._losing[d]
                if floor.knobs[d].start < floor.knobs[d].values:
                    leading |= walking.accept[floor.knobs[d].station]
        heeded = part(floor, dials, stopping(wheels))
        return Pattern(floor, wheels, dials, parts, _unasked, heeded=heeded, leading=leading)
