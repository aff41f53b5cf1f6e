"""What a plan gone on with says of its shop file: true of the one it is gone on with, whichever it was planned by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sequencer.joinery.basis.checks import TOLERANCES, Sized, coarse_remarks
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.besides import lacking_left, speaks_of_lacking
from sequencer.joinery.near_stops import angle_remarks, speaks_of_angles
from sequencer.joinery.trenches.router_bits import speaks_of_lost_bit
from sequencer.joinery.work.blades import blades_since
from sequencer.operations import Operation


def shop_remarks(
    floor: Floor,
    carried: Sequence[str],
    parts: Mapping[str, Sized],
    left: Iterable[Operation],
    told_besides: bool,
) -> tuple[str, ...]:
    """The remarks carried over, those that speak of the shop file as they are by this one, with what is so by it now.

    `parts` are those of the plan, new pieces with them; `left` is what is still to be made of it. A plan whose
    operations do not say what is set besides (`told_besides`) keeps what it says of that.
    """
    left = tuple(left)
    kept = [
        blades_since(floor, remark)
        for remark in carried
        if not remark.startswith(TOLERANCES)
        and not speaks_of_angles(remark)
        and not speaks_of_lost_bit(floor, remark)
        and not (told_besides and speaks_of_lacking(remark))
    ]
    checked = [
        operation
        for operation in left
        if operation.cuts or (operation.kind == "mill" and operation.notes.check)
    ]
    coarse = coarse_remarks(floor, parts, checked)
    return (*kept, *dict.fromkeys(angle_remarks(floor, left)), *coarse, *lacking_left(floor.job.shop, left))
