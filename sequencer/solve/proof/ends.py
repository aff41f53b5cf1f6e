"""The two ends of a problem: laid out to be searched from the first lot on, and from the last one back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from sequencer.solve.bounds.wheels import Wheel, ease
from sequencer.solve.problem import Impossible
from sequencer.solve.proof.backwards import backwards
from sequencer.solve.proof.joining import Joining
from sequencer.solve.proof.scale import compiles
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor


@dataclass(frozen=True, eq=False)
class End:
    """A floor to be searched and its dials, eased; `back`: of the problem told backwards."""

    floor: Floor
    wheels: list[Wheel]
    back: bool = False

    @cached_property
    def joining(self) -> Joining:
        """The patterns made of its dials so far."""
        return Joining(self.floor, self.wheels)

    def order(self, items: Iterable[int]) -> tuple[int, ...]:
        """The lots of an order of the problem, from an order of this floor."""
        lots = tuple(self.floor.lot_of[item] for item in items)
        return lots[::-1] if self.back else lots

    def items(self, order: Iterable[int]) -> tuple[int, ...]:
        """An order of this floor, from the lots of an order of the problem."""
        items = tuple(self.floor.item_of[lot] for lot in order)
        return items[::-1] if self.back else items


class Ends:
    """The front of a problem, and its back where it is asked for."""

    def __init__(self, floor: Floor, wheels: list[Wheel]) -> None:
        self.front = End(floor, wheels)

    @cached_property
    def back(self) -> End | None:
        """The other end; None where the problem is not the same from there, or its costs do not fit the kernels."""
        problem = backwards(self.front.floor.problem)
        if problem is None:
            return None
        relation = relation_of(problem)
        assert not isinstance(relation, Impossible)
        floor = Floor(problem, relation)
        if not compiles(floor):
            return None
        wheels = [ease(floor, d) for d in range(len(floor.knobs))]
        return End(floor, wheels, back=True)
