"""Whether the steps of a plan file stand where its operations ask: the readings are told twice, once on each side."""

from __future__ import annotations

from collections.abc import Iterator

from sequencer.agreement.lists import Contradiction
from sequencer.operations import Between, OneOf, Wanted
from sequencer.planfile import Plan, Reading
from sequencer.quantity import MM, Unit, as_written

SAME = 1e-6
"""mm, degrees or plain numbers: what rounding may add to what is asked."""
GENEROUS, SHARE = 5.0, 0.1
"""Of a file that does not tell tolerances: no shop's is thought to be more than this (mm, degrees, numbers), and this
share of the value."""


def not_as_asked(plan: Plan) -> Iterator[Contradiction]:
    """Where a plan whose lists agree (`lists`) has a step that does not stand where its operation asks.

    What is moved for a step is moved to what it asks; what stands may be off by the tolerance.
    """
    stations = {station.id: station for station in plan.stations}
    place = {operation.id: index for index, operation in enumerate(plan.operations)}
    for number, step in enumerate(plan.steps, 1):
        index = place[step.operation]
        moved = {reset.setting for reset in step.resets}
        station = stations.get(step.station)
        for name, wanted in plan.operations[index].settings.items():
            reading, measure = step.settings[name], station.measures.get(name) if station else None
            told = station.tolerances if station else None
            slack = 0.0 if name in moved else None if told is None else told.get(name, 0.0)
            # where nobody says what is measured, lengths may stand in another unit than here
            units: tuple[Unit, ...] = (
                ("mm", plan.unit) if measure is None else (plan.unit if measure == "length" else "mm",)
            )
            readings = [
                reading if isinstance(reading, str) else reading * float(MM[unit])
                for unit in dict.fromkeys(units)
            ]
            if slack and measure == "length":
                slack *= float(MM[plan.unit])
            if not any(_meets(wanted, value, slack) for value in readings):
                yield Contradiction(
                    f"operations.{index}.settings.{name}",
                    f"step {number} stands at {_shown(reading)}, which is not what it asks for",
                    f"{_shown(readings[-1])}, or a range or list with it",
                )


def _meets(wanted: Wanted, value: Reading, slack: float | None) -> bool:
    """Whether a reading is what is asked for, give or take `slack`; None: nobody knows what is within tolerance."""
    if isinstance(wanted, OneOf):
        return any(_meets(each, value, slack) for each in wanted.any)
    if isinstance(value, str) or isinstance(wanted, str):
        return value == wanted
    low, high = (wanted.min, wanted.max) if isinstance(wanted, Between) else (wanted, wanted)
    rounding = max(SAME, 1e-12 * abs(value))
    room = max(GENEROUS, SHARE * abs(value)) if slack is None else slack + rounding
    return low - room <= value <= high + room


def _shown(reading: Reading) -> str:
    return as_written(reading) if isinstance(reading, str) else f"{reading:.10g}"
