"""Whether a bottom or panel fits the groove that holds it: as wide as the opening, no wider than groove to groove."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sequencer.joinery.floor import Floor
from sequencer.model.parts import CaseMitre, EndToEdge, Groove, Joint, Part


def held_remarks(floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[str]:
    """A remark for each held part that would fall through its opening or cannot go into its grooves."""
    for groove in joints:
        if not isinstance(groove, Groove) or not groove.holds:
            continue
        panel = parts[groove.holds]
        for joint in joints:
            if set(joint.parts) != set(groove.parts):
                continue
            opening = sorted(_opening(joint, parts))
            size = sorted((panel.length, panel.width))
            for free, has in zip(opening, size, strict=False):
                most = free + 2 * groove.depth
                if has <= free or has > most - 0.5:
                    what = "falls through" if has <= free else "leaves no room in its grooves"
                    yield (
                        f"{panel.id}: {floor.length(has)} {what}: the opening is {floor.length(free)}, from groove to "
                        f"groove {floor.length(most)}"
                    )


def _opening(joint: Joint, parts: Mapping[str, Part]) -> tuple[float, ...]:
    """The two sides of a rectangular opening; none where the joint makes no rectangle."""
    if isinstance(joint, CaseMitre) and joint.closed and joint.corner == 90.0 and len(joint.parts) <= 2:
        boards = [parts[joint.parts[0]], parts[joint.parts[-1]]]
        return tuple(board.length - 2 * board.thickness for board in boards)
    if isinstance(joint, EndToEdge) and joint.at is None:
        rail, stile = (parts[p] for p in joint.parts)
        return rail.length, stile.length - 2 * rail.width
    return ()
