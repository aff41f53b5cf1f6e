"""What the legs of an apron table can be and hold: all four are one part, left ends up, each a quarter turn on from the
one before. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.places import in_words, rail_places
from sequencer.joinery.basis.refusal import Refusal
from sequencer.model.parts import EndToEdge, EndToFace, Joint, LegToApron, Part


def between_legs(joint: EndToEdge | EndToFace, parts: Mapping[str, Part], floor: Floor) -> None:
    """Raises Refusal for a board from one leg of a table to the next by two like surfaces, edges or faces, as joints of
    both its ends ask: two legs with their left ends up never turn these towards each other."""
    board, leg = (parts[name] for name in joint.parts)
    tables = (other for other in floor.job.joints if isinstance(other, LegToApron) and other.leg == leg.id)
    table = next(tables, None)
    if table is None or len(joint.ends) < 2:
        return
    at = rail_places(joint, board, leg) if isinstance(joint, EndToEdge) else joint.at
    drops = sorted({max(0.0, min(a, leg.length - board.width)) for a in at})
    each = "" if len(drops) == 1 else ", a joint for each drop"
    raise Refusal(
        f'the legs of the table "{table.id}" all have their left ends up, each a quarter turn on from the last: '
        f"no two {leg.id}s that {board.id} could reach turn the same side towards each other",
        f'a joint of kind "leg-to-apron" with drop {in_words(drops, floor)}{each}: rails all round below the aprons, '
        f"as long as the apron above each, two of {board.id} and two of another part, or four where the aprons are "
        "alike",
        "kind",
    )


def leg_remarks(floor: Floor, joints: Iterable[Joint], parts: Mapping[str, Part]) -> Iterator[str]:
    """A remark for every part that is the leg of a table and not square."""
    for name in dict.fromkeys(joint.leg for joint in joints if isinstance(joint, LegToApron)):
        leg = parts[name]
        if abs(leg.width - leg.thickness) > HAIR:
            yield (
                f"{name} is not square ({floor.fine(leg.width)} wide, {floor.fine(leg.thickness)} thick): all legs of "
                "a table are alike, each a quarter turn on from the last, so where one has its width along a side "
                "of the table the next has its thickness; corners that are mirror images need square legs"
            )
