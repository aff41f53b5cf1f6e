"""Parts and joints -> operations: the trade's geometry.

`derive(job)` gives the worklist, `joint_report(job)` what the maker should know of each joint. Both import the
geometry only when a job has parts or joints.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sequencer.joinery.report import JointReport
    from sequencer.model.job import Job
    from sequencer.operations import Worklist

__all__ = ["derive", "joint_report"]


def derive(job: Job) -> Worklist:
    """The operations derived from a job's parts and joints; empty for a job without them.

    Raises InputError with every fault found, NoOrderError where no way of making a joint is left.
    """
    from sequencer.operations import Worklist

    if not job.parts and not job.joints:
        return Worklist(operations=())
    from sequencer.joinery.derivation import derive

    return derive(job)


def joint_report(job: Job) -> tuple[JointReport, ...]:
    """What there is to know of each joint: geometry, walls, grain, ways ranked, gaps. Raises as `derive`."""
    if not job.joints:
        return ()
    from sequencer.joinery.report import joint_report

    return joint_report(job)
