"""The sizes on a part's figure: how long the piece is after the cut, where mortises and grooves stand, and words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sequencer.report.drawing.figure import Item

if TYPE_CHECKING:
    from sequencer.report.drawing.part import Scene


def sizes(scene: Scene, drawn: Sequence[Item]) -> tuple[Item, ...]:
    return ()
