"""How many slips of which size meetings take, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

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
