"""How many slips of which size meetings take, and which became less because of another joint, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.meetings.joined import Joined, Way
from sequencer.joinery.slots.fit import Fit
from sequencer.model.job import Job
from sequencer.operations import Meeting, Slip
from sequencer.quantity import counted, format_length


def slips_told(job: Job, meetings: Iterable[Meeting]) -> dict[Slip, str]:
    """The slips that meetings still take, told once for each size; "" where all of a size are there."""
    counts: Counter[Slip] = Counter()
    for meeting in meetings:
        counts[meeting.slip] += meeting.slips
    return {slip: _told(job, slip, count) if count else "" for slip, count in counts.items()}


def _told(job: Job, slip: Slip, count: int) -> str:
    thick = format_length(slip.thickness, job.shop.unit, decimals=True)  # as its cutter is marked
    wide, long = (format_length(size, job.unit, decimals=True) for size in (slip.width, slip.length))
    return f"{counted(count, 'slip')} of {thick} × {wide} × {long} (thickness × width × length)"


def given_way(floor: Floor, each: Joined, way: Way) -> tuple[str, ...]:
    """What a way's slips have lost to the slots of other joints, in words: each loss once."""
    lost = (_lost(floor, each, fit, alone) for (_, fit), alone in zip(way.fits, way.alone, strict=False))
    others = " and ".join(way.clear_of)
    return tuple(
        f"{told}, clear of the slots of {others}; slips.at of either decides otherwise"
        for told in dict.fromkeys(filter(None, lost))
    )


def _lost(floor: Floor, each: Joined, fit: Fit, alone: Fit) -> str:
    """How much fewer, narrower and shorter slips are than they would be without other joints; "" where they are not."""
    told = []
    begin = "slips "
    if fit.count < alone.count:
        where = "meeting" if each.ring is None else "corner"
        begin = f"{counted(fit.count, 'slip')} "
        told.append(f"instead of {alone.count} in each {where}")
    for now, then, how in ((fit.width, alone.width, "wide"), (fit.length, alone.length, "long")):
        if now < then - HAIR:
            told.append(f"{floor.length(now)} instead of {floor.length(then)} {how}")
    return begin + ", ".join(told) if told else ""
