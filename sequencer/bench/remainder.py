"""What is left of a plan at the bench: steps done, pieces spoiled, settings moved -> the rest, ordered anew.

The choices stay as planned, for the work has begun. A spoiled piece is made again through all steps it had behind it,
as a part of its own ("rail (remade)"), before the steps still to come that waited for these; its steps share setups
with what is left wherever that saves minutes. What stands where follows from the steps done and from what is told.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Any

from sequencer.bench.happened import Happened, pieces_left
from sequencer.bench.made_again import sections_again
from sequencer.bench.parted import parted, refused
from sequencer.bench.shop_since import shop_remarks
from sequencer.bench.slips_left import meetings_left, remarks_left
from sequencer.bench.standing import reading_in_words, settings_of, standing_shop, still_possible
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.near_stops import warned
from sequencer.model.job import Job
from sequencer.model.rule import MADE
from sequencer.operations import Edge, MatesGroup, Operation, Worklist, only_made, the_one
from sequencer.pipeline import Prepared, order
from sequencer.planfile import GOES_ON, PartRecord, Plan, Reading
from sequencer.quantity import counted, format_minutes

PROVE = "prove it on a piece made there"
"""Said of a setting that must be found again, since pieces are made at it and their mates are not."""
UNPROVED = "set it to that very reading: of the pieces made there none is left to prove it on"
"""Said of it where all of them were spoiled."""
AS_IT_WAS = "as it was for "


def replan(
    job: Job,
    plan: Plan,
    happened: Happened,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Any], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """The rest of a plan of this job, ordered anew from where things stand, with its proof.

    `done` of the result are the operations made before; its precedence and mates tell of these, too, so that it can be
    gone on with in its turn. Raises InputError for a plan of another job, for steps, parts and settings it does not
    have, where nothing is left, where what happened cannot be gone on from (a piece that is glued up, a step skipped
    that others rest on) and where the shop no longer reaches what is wanted; NoOrderError as `order`.
    """
    rest = _Rest(job, plan, happened)
    found = order(rest.prepared(), time_limit, seed, progress, stop)
    past = {operation.id for operation in rest.parted.done}
    still = {part for operation in found.operations for part in operation.parts}
    works_on = {operation.id: operation.parts for operation in (*plan.done, *plan.operations)}
    return found.model_copy(
        update={
            "choices": plan.choices,
            "options": plan.options,
            "struck_out": plan.struck_out,
            "done": rest.parted.done,
            "parts": (*rest.begun_parts(), *rest.parted.remade.values()),
            "going_on": len(found.remarks) - len(rest.carried),
            "steps_before": (*plan.made_before, len(rest.parted.steps)),
            "precedence": (
                *found.precedence,
                *(edge for edge in plan.precedence if past & {edge.before, edge.after}),
            ),
            "mates": rest.groups,
            "meetings": (
                *(
                    meeting
                    for meeting in rest.meetings
                    if still & {*works_on[meeting.first.operation], *works_on[meeting.second.operation]}
                ),
                *sections_again(plan, rest.parted.again),
            ),
        }
    )


class _Rest:
    """The rest of a plan: what is made again, what is still to be made, from where."""

    def __init__(self, job: Job, plan: Plan, happened: Happened) -> None:
        self.job, self.plan, self.happened, self.floor = job, plan, happened, Floor(job)
        self.parted = parted(job, plan, happened)
        self.number = {step.operation: n for n, step in enumerate(plan.steps, 1)}
        self.works = {operation.id: operation for operation in (*plan.done, *plan.operations)}
        self.records = {part.id: part for part in (*plan.parts, *self.parted.remade.values())}
        self.meetings = meetings_left(plan, self.parted.made, self.parted.left.values(), self.parted.remade)
        self.carried = self._carried_on()
        self.musts: dict[str, list[Edge]] = defaultdict(list)
        for edge in plan.precedence:
            if edge.strength == "must":
                self.musts[edge.before].append(edge)
        self.copies: dict[str, list[Operation]] = defaultdict(list)
        """What is made again of an operation of the first plan, now or still from before."""
        for operation in (*self.parted.left.values(), *(copy.operation for copy in self.parted.again)):
            if operation.again:
                self.copies[operation.again].append(operation)
        there = {*self.parted.left, *(operation.id for operation in self.parted.made)}
        self.groups = tuple(map(self._with_again, only_made(plan.mates, there)))

    def _carried_on(self) -> tuple[str, ...]:
        """The remarks of the plan that still hold, as they are told by now."""
        plan = self.plan
        older = not plan.going_on and (plan.done or plan.told_going_on)  # it does not tell its remarks apart
        now = shop_remarks(
            self.floor,
            () if older else plan.remarks[plan.going_on :],
            self.records,
            (*(copy.operation for copy in self.parted.again), *self.parted.left.values()),
            told_besides=any(operation.set_too for operation in self.works.values()),
        )
        return remarks_left(self.job, now, plan.meetings, self.meetings)

    def _with_again(self, group: MatesGroup) -> MatesGroup:
        """A group of mates with what is made again of them."""
        again = (copy.operation.id for copy in self.parted.again if copy.of in group.operations)
        return group.model_copy(update={"operations": (*group.operations, *again)})

    def prepared(self) -> Prepared:
        """What is left as a job of its own: operations, precedence, mates, and a shop that stands as the bench does."""
        operations = {
            **{copy.operation.id: copy.operation for copy in self.parted.again},
            **self.parted.left,
        }
        if not operations:
            raise refused("nothing is left to be made", "--done", f"fewer than {len(self.plan.steps)} steps")
        edges = tuple(self._edges())
        # of several groups at one reading the card has the last word: one that pieces prove
        begun = [self._match(group, operations) for group in sorted(self.groups, key=self._proves)]
        worklist = Worklist(
            operations=tuple(
                warned(self.floor, each) for each in still_possible(self.job, operations.values())
            ),
            mates=tuple(group for group in only_made(self.groups, operations) if len(group.operations) > 1),
            remarks=(*self._remarks(edges), *filter(None, begun), *self.carried),
        )
        shop = standing_shop(self.job, self.plan, self.parted.steps, self.happened.moved)
        return Prepared(self.job.model_copy(update={"shop": shop}), worklist, edges)

    def begun_parts(self) -> Iterator[PartRecord]:
        """The parts of the plan, with whether any of their pieces are there by now."""
        for part in self.plan.parts:
            begun = part.begun or any(part.goes_through(operation) for operation in self.parted.made)
            yield part.model_copy(update={"begun": begun})

    def _one_will_do(self, edge: Edge) -> bool:
        """Whether what a surface was made for is of no part (a setting block, a jig), so that any piece with the
        surface serves, and good ones have it already: then new ones are not waited for."""
        before, after = self.works.get(edge.before), self.works.get(edge.after)
        if (
            edge.rule != MADE
            or before is None
            or after is None
            or after.parts
            or before.id in self.parted.left
        ):
            return False
        bear = {surface.rpartition("/")[0] for surface in {*before.makes} & {*after.registers_on}}
        return all(self._good(part) > 0 for part in bear)

    def _good(self, part: str) -> int:
        """How many pieces of a part of the first plan were never made again, at least; none of what is no part."""
        planned = self.records[part].quantity if part in self.records else 0
        return planned - sum(each.quantity for each in self.records.values() if each.again == part)

    def _edges(self) -> Iterator[Edge]:
        """What must still wait for what, and what should; raises InputError where a done operation had to wait for one
        that is left."""
        yield from self._wishes()
        told: set[tuple[str, str]] = set()
        # now, or in an earlier plan: what it came before was made after it, in its time
        opened = set(self.parted.reopened)
        for edge in self.plan.precedence:
            if edge.strength == "must" and edge.before in self.parted.left:
                was_made = edge.after not in self.parted.left or edge.after in self.parted.reopened
                if was_made and edge.after in self.number and edge.before not in self.parted.reopened:
                    raise refused(
                        f"step {self.number[edge.after]} cannot have been made before step "
                        f"{self.number[edge.before]}: {edge.why}",
                        "--skipped",
                        "steps that no step done must wait for",
                    )
                if edge.after in self.parted.left:
                    told.add((edge.before, edge.after))
                    yield edge
                else:
                    opened.add(edge.before)
        again = [
            (of, each.id, each.parts[0] if each.parts else "")
            for of, ops in self.copies.items()
            for each in ops
        ]
        for of, name, part in (*again, *((fit, fit, "") for fit in sorted(opened))):
            for edge in self._edges_of(of, name, part):
                if (edge.before, edge.after) not in told:
                    told.add((edge.before, edge.after))
                    yield edge

    def _edges_of(self, made: str, again: str, part: str) -> Iterator[Edge]:
        """What waits for a done operation that is made again. Where a later one is made again of these very pieces, its
        being made again of others does not wait."""
        for path in self._onward(made, part):
            last = path[-1].after
            why = path[0].why
            if len(path) > 1:
                why += f"; and so on to {self._words(last)}"
            same = self._of_these(last, part) or self.copies[last]
            for name in [last] if last in self.parted.left else [copy.id for copy in same]:
                yield path[0].model_copy(update={"before": again, "after": name, "why": why})

    def _of_these(self, operation: str, part: str) -> list[Operation]:
        return [copy for copy in self.copies[operation] if part in copy.parts]

    def _onward(self, made: str, part: str) -> Iterator[list[Edge]]:
        """The ways from a done operation, by what must wait for what, to what is left or made again: to the next that
        is, and on until one is of the very pieces. By way of what any good piece serves for only to those of these."""
        paths: list[list[Edge]] = [[edge] for edge in self.musts[made]]
        seen: set[tuple[str, bool]] = set()
        for path in paths:  # grows as it is gone through
            name, theirs = path[-1].after, not part or not any(self._one_will_do(edge) for edge in path)
            if (name, theirs) in seen:
                continue
            seen.add((name, theirs))
            still, these = name in self.parted.left, bool(self._of_these(name, part))
            if not theirs:
                these = these or (still and self.records[part].goes_through(self.parted.left[name]))
                still = False
            if still or these or (theirs and self.copies[name]):
                yield path
            if not still and not these:
                paths += [[*path, edge] for edge in self.musts[name]]

    def _wishes(self) -> Iterator[Edge]:
        """Preferences between operations that are left or made again, on the same pieces."""
        told: set[tuple[str, str, str]] = set()
        for edge in self.plan.precedence:
            if edge.strength == "prefer":
                for before, its in self._as_made(edge.before):
                    for after, theirs in self._as_made(edge.after):
                        wish = (before, after, edge.rule)
                        if its & theirs and wish not in told:
                            told.add(wish)
                            yield edge.model_copy(update={"before": before, "after": after, "kept": True})

    def _as_made(self, operation: str) -> list[tuple[str, set[str]]]:
        """An operation as it is still made, and again: ids, and the parts of which pieces go through it."""
        of = {part.id: part.again or part.id for part in (*self.plan.parts, *self.parted.remade.values())}
        made = [self.parted.left[operation]] if operation in self.parted.left else []
        return [
            # "": whatever the parts, what is left of the first plan meets what is left of it
            (each.id, {*(of.get(part, part) for part in each.parts), *(() if each.again else ("",))})
            for each in (*made, *self.copies[operation])
        ]

    def _match(self, group: MatesGroup, operations: dict[str, Operation]) -> str:
        """Ask of the mates of what is made for the readings it was made at; what is to be said of it."""
        made = [operation for operation in self.parted.done if operation.id in group.operations]
        rest = [name for name in group.operations if name in operations]
        if not made or not rest:
            return ""
        done = self._words(made[-1].id)
        told, known = [], settings_of(self.job.shop)
        says = PROVE if self._proves(group) else UNPROVED
        for name in group.hold:
            station, _, setting = name.partition(".")
            # the shop may not have had the setting when it was made: then its reading is not known
            asked = [the_one(op.settings.get(setting)) for op in made if op.station == station]
            readings = [reading for reading in asked if reading is not None]
            if not readings or (station, setting) not in known:
                continue
            told.append(
                f"{known[station, setting].called} at {self._reading(station, setting, readings[-1])}"
            )
            for each in rest:
                operation = operations[each]
                if operation.station == station and setting in operation.settings:
                    settings = {**operation.settings, setting: readings[-1]}
                    operations[each] = operation.model_copy(update={"settings": settings})
            # whatever asks for that very reading may be the first to be made at it
            for each, operation in list(operations.items()):
                if operation.station == station and operation.settings.get(setting) == readings[-1]:
                    operations[each] = _proved(operation, setting, done, says)
        if not told:
            return ""
        work = "; ".join(_named(operations[name]) for name in rest)
        why = f" ({group.why})" if group.why else ""
        return f"{work}: made with {', '.join(told)} like {done}; {says}{why}"

    def _proves(self, group: MatesGroup) -> bool:
        """Whether there may be a piece left of those that were made at the readings of a group."""
        made = (operation for operation in self.parted.done if operation.id in group.operations)
        return any(map(self._has_left_some, made))

    def _has_left_some(self, operation: Operation) -> bool:
        """Whether there may be a piece that an operation was made on: not where all were spoiled since."""
        new = {
            part: sum(each.quantity for each in self.records.values() if part in each.named[1:2])
            for part in operation.parts
        }
        return not new or any(
            part not in self.records or pieces_left(self.records, part) > new[part] for part in new
        )

    def _reading(self, station: str, setting: str, value: Reading) -> str:
        """A reading that what is done was made at, in words."""
        return reading_in_words(self.job.shop.station(station).setting(setting), value, self.job)

    def _words(self, operation: str) -> str:
        """What an operation of the plan is, in words."""
        found = next(each for each in (*self.plan.done, *self.plan.operations) if each.id == operation)
        return _named(found)

    def _remarks(self, edges: tuple[Edge, ...]) -> Iterator[str]:
        made = {step.operation for step in self.parted.steps}
        ahead = [step for step in self.plan.steps if step.operation not in made]
        minutes = sum(
            step.walk_minutes + step.work_minutes + sum(reset.minutes for reset in step.resets)
            for step in ahead
        )
        yield (
            f"{GOES_ON}{len(self.parted.steps)} of {counted(len(self.plan.steps), 'step')}; "
            f"{format_minutes(minutes)} were left of that plan"
        )
        for part, pieces in self.happened.spoiled.items():
            copies = [copy.operation for copy in self.parted.again if copy.part == part]
            work = format_minutes(sum(copy.work_minutes for copy in copies))
            again = (
                f"{counted(len(copies), 'step')} with {work} of work"
                if copies
                else "with no step before those that are left"
            )
            yield f"{part}: {pieces} made again, {again}"
            if copies and not self._reached({copy.id for copy in copies}, edges) & self.parted.left.keys():
                yield f"{self.parted.remade[part].id}: no step that is left waits for it"

    def _reached(self, names: set[str], edges: tuple[Edge, ...]) -> set[str]:
        """All that waits for some operations, by way of others, too."""
        onward: dict[str, list[str]] = defaultdict(list)
        for edge in edges:
            if edge.strength == "must":
                onward[edge.before].append(edge.after)
        todo, seen = list(names), set(names)
        while todo:
            new = [name for name in onward[todo.pop()] if name not in seen]
            seen.update(new)
            todo += new
        return seen


def _proved(operation: Operation, setting: str, done: str, says: str) -> Operation:
    """An operation whose card says, where the setting is moved, that pieces were made at its reading, and whether these
    prove it.
    """
    told = operation.notes.how_to_set.get(setting, "")
    if AS_IT_WAS in told and told.endswith((PROVE, UNPROVED)):  # said when an earlier plan was gone on with
        told = told.rpartition(AS_IT_WAS)[0].removesuffix("; ")
    how = "; ".join(filter(None, (told, f"{AS_IT_WAS}{done}: {says}")))
    notes = operation.notes.model_copy(update={"how_to_set": {**operation.notes.how_to_set, setting: how}})
    return operation.model_copy(update={"notes": notes})


def _named(operation: Operation) -> str:
    """What an operation is, in words; where it has none, its name, with the piece if it is made again."""
    piece = f" ({', '.join(operation.parts)})" if operation.again else ""
    return operation.notes.what or f'"{operation.in_words}"{piece}'
