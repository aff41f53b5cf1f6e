"""Reading a job file and the files it names: every table by itself, then what they say of each other.

All faults of all files are found at once. What one table gets wrong does not hide what is wrong with another.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator, Sequence
from pathlib import Path
from typing import Any

from sequencer.diagnostics import Fault, InputError, NoOrderError, nearest, no_such, quoted, shortened
from sequencer.files.cut_list import read_cut_list
from sequencer.files.shop_file import ShopRead, read_shop
from sequencer.files.source import Source, is_there, name_of
from sequencer.model.fields import MOST_PIECES, Place
from sequencer.model.job import (
    ChoiceTable,
    Job,
    JobTable,
    MatesTable,
    OperationTable,
    Reference,
    part_and_surface,
)
from sequencer.model.notes import Reach, wrong_notes
from sequencer.model.parts import Joint, Part
from sequencer.model.rule import Book
from sequencer.model.shop import Rules, reads_as
from sequencer.model.surfaces import Known, Named, by_part, is_slip, likely_slips, made_by, unknown_surfaces
from sequencer.model.wanted import read_wanted, several_readings
from sequencer.operations import Choice, MatesGroup, Operation, StruckOut, Wanted, only_made, the_one

TABLES = ("job", "part", "joint", "operation", "mates", "choice")


ReadBooks = Callable[[Rules, str, Callable[[Place], int | None]], tuple[tuple[Book, ...], list[Fault]]]
"""The rule books that go with the rules of a shop file, and what is wrong with either; given the shop file's name and
the lines of its keys.
"""


def load_job(path: str | Path, *, begun: bool = False, read_books: ReadBooks | None = None) -> Job:
    """Read a job file with its shop and cut list; where its work has `begun`, to go on with a plan of it.
    `read_books` reads the rule books, which then go with it, and tells what is wrong with them and the shop's rules.

    A plan begun says itself what is made and what is left: that the shop no longer has or reaches what the job asked
    for (a tool has failed that was used before) is then no fault of the job's.

    Raises InputError with all faults of all the files, in the order of the files and their lines;
    NoOrderError where every option of a choice asks for what a setting cannot reach.
    """
    return _JobReader(Path(path), begun, read_books).job()


class _JobReader:
    """One reading of a job: the sources, and what has been made of their tables so far."""

    def __init__(self, path: Path, begun: bool, read_books: ReadBooks | None) -> None:
        self.path, self.begun, self.read_books = path, begun, read_books
        self.books: tuple[Book, ...] | None = None
        self.source = Source(path, "the job file")
        self.others: list[Fault] = []
        """Faults of the shop file and the cut list."""
        self.source.only(TABLES)
        raw = self.source.table("job")
        if "job" not in self.source.data:
            self.source.say((), "the table [job] is missing", "[job] with name, unit, shop and batch")
        self.shop = self._read_shop(raw)
        self.unit = self.source.unit(raw, self.shop.unit if self.shop else "mm")
        self.head: JobTable | None = None
        if isinstance(self.source.data.get("job"), dict):
            self.head = self.source.read(("job",), raw, JobTable, self.unit)
        self.batch = self.head.batch if self.head else 1
        self.references: list[Reference] = []
        self.beyond: dict[str, list[Fault]] = {}
        """For operations within choices: what they ask that a setting cannot reach."""
        self.left_out: dict[tuple[str, str], list[str]] = {}
        """What a setting cannot reach, and what it can, in words: the operations that are content with other values."""
        self.remarks: list[str] = []
        """Other things that its maker should know of what was read."""
        self.cut_list = ""
        """The name of the cut list; empty where the job names none."""
        self.rows: dict[str, tuple[str, int]] = {}
        """The file and line of the parts in the cut list."""

    def job(self) -> Job:
        """The job, or InputError with all that is wrong."""
        source = self.source
        parts = self._parts()
        for part in parts:
            if too_many := _too_many(part.quantity, self.batch, part.spare):
                message, accepted = too_many
                file, line = self.stands("part", part.id, "quantity")
                told = source.faults if file == str(self.path) else self.others
                told.append(Fault(message, file, f'part "{part.id}"', line, accepted))
        joints = self._joints()
        self.reach = {part.id: self._reach(part) for part in parts}
        self.written = {
            raw["id"].strip() for _, raw in source.tables("operation") if isinstance(raw.get("id"), str)
        }
        source.twice("operation", source.tables("operation"))
        choices = self._choices()
        optional = {op for choice in choices for op in choice.operations}
        operations = self._operations(parts, joints, optional)
        if self.joints_known and not self.begun:
            self.remarks += _unknown_joints(operations, [joint.id for joint in joints])
        mates = self._mates()
        if source.misspelt:
            pass  # what is missing may stand there
        elif not any(source.data.get(key) for key in ("operation", "joint", "part")) and not self.part_ids:
            if self.cut_list and self.parts_known:
                message = f'the job is empty: "{shortened(self.cut_list)}" has no rows below its heading'
                source.say(("job", "parts"), message, "a row for each part, or [[operation]] tables")
            elif self.parts_known:
                source.say(
                    (), "the job is empty", "at least one [[operation]], or [[part]] and [[joint]] tables"
                )
        elif not any(source.data.get(key) for key in ("operation", "joint")):
            source.say(
                (), "the job has parts and nothing to do with them", "[[joint]] or [[operation]] tables"
            )
        if faults := self._in_order():
            raise InputError(faults)
        assert self.head is not None
        assert self.shop is not None
        shop = self.shop.finished()
        cut_list = (str(self.path.parent / self.head.parts),) if self.head.parts else ()
        job = Job(
            name=self.head.name or name_of(self.path),
            unit=self.unit,
            batch=self.batch,
            path=str(self.path),
            files=(str(self.path), shop.path, *shop.rules.books, *cut_list),
            shop=shop,
            parts=tuple(parts),
            joints=tuple(joints),
            operations=tuple(operations),
            mates=tuple(mates),
            choices=tuple(choices),
            books=self.books,
            references=tuple(self.references),
            stands=self.stands,
        )
        job = _struck(job, self.beyond) if self.beyond else job
        return job.model_copy(update={"remarks": (*self._left_out(job), *self.remarks)})

    def _left_out(self, job: Job) -> Iterator[str]:
        """What is told of values that are left out, each once, of operations that may be made."""
        made = {operation.id for operation in job.operations}
        for (what, accepted), asking in self.left_out.items():
            if names := [id for id in asking if id in made]:
                yield f"{what}: left out of what will do for {quoted(names)}; accepted: {accepted}"

    def _in_order(self) -> list[Fault]:
        """All faults, each once: those of the job file, the shop file, its rule books and the cut list, by line."""
        faults = list(dict.fromkeys((*self.source.faults, *self.others)))
        books = self.shop.rules.books if self.shop and self.shop.rules else ()
        shop = self.shop.source.path if self.shop else ""
        files = list(map(str, (self.path, shop, *books)))
        files += [fault.file for fault in faults if fault.file not in files]
        return sorted(faults, key=lambda fault: (files.index(fault.file), fault.line or 0))

    def stands(self, kind: str, id: str, key: str) -> tuple[str, int | None]:
        """The file and line of a table by its id ("job" has none), of a key in it where it is written there."""
        if kind == "job":
            return str(self.path), self.source.line((kind, *key.split(".")))
        if kind == "part" and id in self.rows:
            return self.rows[id]
        for index, raw in self.source.tables(kind):
            if str(raw.get("id")).strip() == id:
                return str(self.path), self.source.line((kind, index, *key.split(".")))
        return str(self.path), None

    def _read_shop(self, raw: dict[str, Any]) -> ShopRead | None:
        name = raw.get("shop")
        if not isinstance(name, str) or not name.strip():
            return None  # reported where [job] is read
        path = self.path.parent / name.strip()
        try:
            read = read_shop(path, begun=self.begun)
        except InputError as error:
            if is_there(path):
                self.others += error.faults
            else:
                message = (
                    f'shop names no file that can be read, "{shortened(name)}": {error.faults[0].message}'
                )
                self.source.say(("job", "shop"), message, f"a shop file; looked for {path}")
            return None
        self.others += read.source.faults
        if self.read_books and read.rules:
            self.books, wrong = self.read_books(read.rules, str(path), read.source.line)
            self.others += wrong
        return read

    def _parts(self) -> list[Part]:
        source = self.source
        tables = source.tables("part")
        source.twice("part", tables)
        read: list[Part | None] = [
            source.read(("part", index), raw, Part, self.unit) for index, raw in tables
        ]
        parts = [part for part in read if part is not None]
        self.parts_known = source.tells_all("part")
        self.part_ids = [raw["id"].strip() for _, raw in tables if isinstance(raw.get("id"), str)]
        raw = source.table("job")
        name = raw.get("parts")  # a cut list is named, whatever else is wrong in [job]
        is_named = isinstance(name, str) and bool(name.strip())
        unread = not isinstance(source.data.get("job", {}), dict)
        if unread or any(key not in JobTable.model_fields for key in raw) or is_named != ("parts" in raw):
            self.parts_known = False  # there may be one
        if isinstance(name, str) and is_named:
            self.cut_list = name.strip()
            path = self.path.parent / self.cut_list
            try:
                found = read_cut_list(path, self.unit)
            except InputError as error:
                message = (
                    f'parts names no file that can be read, "{shortened(name)}": {error.faults[0].message}'
                )
                source.say(("job", "parts"), message, f"a CSV file; looked for {path}")
                self.parts_known = False
                return parts
            self.others += found.faults
            self.parts_known = self.parts_known and found.complete
            for line, id in found.ids:
                if id in self.part_ids:
                    where, (file, first) = f'part "{shortened(id)}"', self.stands("part", id, "id")
                    taken = f"line {first}" if file == str(path) else f"{Path(file).name}, line {first}"
                    message = f'id "{shortened(id)}" is taken ({taken})'
                    self.others.append(Fault(message, str(path), where, line, "an id of its own"))
                else:
                    self.rows[id] = str(path), line
                self.part_ids.append(id)
            parts += found.parts
        return parts

    def _joints(self) -> list[Any]:
        source = self.source
        tables = source.tables("joint")
        source.twice("joint", tables)
        joints = []
        for index, raw in tables:
            joint: Any = source.read(("joint", index), raw, Joint, self.unit)
            if joint is not None:
                joints.append(joint)
            for key in ("parts", "leg", "holds"):
                named = raw.get(key)
                several = named if isinstance(named, list) else [named]
                for number, part in enumerate(several if self.parts_known else ()):
                    if isinstance(part, str) and part.strip() and part.strip() not in self.part_ids:
                        place: Place = ("joint", index, key)
                        place = (*place, number) if isinstance(named, list) else place
                        self._dangling(place, key, "part", part, self.part_ids)
        self.joints_known = source.tells_all("joint") and len(joints) == len(tables)
        return joints

    def _dangling(self, place: Place, key: str, what: str, name: str, known: Any) -> None:
        self.source.say(
            place,
            no_such(key, what, name, known),
            quoted(known) or f"{'an' if what[0] in 'aeiou' else 'a'} {what}",
        )

    def _refer(self, place: Place, key: str, id: str, *, may_fall_away: bool = True) -> None:
        """Note a reference to an operation; a fault at once where none can be derived that has the id."""
        if id in self.written:
            return
        if self.source.data.get("joint"):
            self.references.append(Reference(id, key, self.source.fault(place, ""), may_fall_away))
        elif self.source.tells_all("operation"):
            self._dangling(place, key, "operation", id, sorted(self.written))

    def _operations(
        self, parts: Sequence[Part], joints: Sequence[Joint], optional: set[str]
    ) -> list[Operation]:
        source = self.source
        self._settle_measures()
        by_hand = [
            (part, each.surface)
            for _, raw in source.tables("operation")
            for each in _named(raw)
            if each.key == "makes"
            for part in each.parts or ("",)
        ]
        derived = [made for joint in joints for made in made_by(joint)]
        self.made = by_part((*by_hand, *derived))
        known_ids = frozenset(self.part_ids)
        if self._surfaces_told():
            self._check_surfaces([surface for _, surface in derived])
        made, names, known = [], self._part_names(), {part.id: part for part in parts}
        for index, raw in source.tables("operation"):
            place = ("operation", index)
            table: OperationTable | None = source.read(place, raw, OperationTable, self.unit)
            after = raw.get("after")
            for number, id in enumerate(after if isinstance(after, list) else ()):
                if isinstance(id, str) and id.strip():
                    self._refer((*place, "after", number), "after", id.strip())
            if self.parts_known and known_ids:
                self._check_parts(place, raw, known_ids)
            if table is not None:
                self._check_notes(place, table, raw, names)
                if too_many := _too_many(table.quantity, self.batch, table.spares(known)):
                    source.say((*place, "quantity"), *too_many)
            settings = self._settings(place, raw, optional)
            if table is not None and settings is not None:
                made.append(table.operation(settings, self.batch, known))
        return made

    def _surfaces_told(self) -> bool:
        """Whether it is known which surfaces operations make: what is faulty may make any, and of a job begun what was
        planned counts.
        """
        told = self.source.tells_all("operation") and self.joints_known and not self.begun
        makes = [raw["makes"] for _, raw in self.source.tables("operation") if "makes" in raw]
        return told and all(
            isinstance(each, list) and all(isinstance(one, str) for one in each) for each in makes
        )

    def _check_surfaces(self, derived: Sequence[str]) -> None:
        """What operations register on, or remove, is there or is made; `derived` are the surfaces that derived ones
        make.
        """
        rules = self.shop.rules if self.shop else None
        strict = self.parts_known and rules is not None and not rules.books  # a book may speak of any surface
        strict, anywhere = strict and bool(self.part_ids), Known(self.made)
        named: list[tuple[str, Named]] = []
        for index, raw in self.source.tables("operation"):
            here = tuple(_named(raw))
            self.source.complain(("operation", index), unknown_surfaces(here, self.made, anywhere, strict))
            named += [(str(raw["id"]).strip(), each) for each in here]
        self.remarks += likely_slips(named, derived)

    def _check_parts(self, place: Place, raw: dict[str, Any], known: Container[str]) -> None:
        """Every part an operation names, alone or with a surface, is one of the job's (`known`)."""
        named: list[tuple[Place, Any]] = [(("part",), raw.get("part"))]
        named += [(("parts", number), each) for number, each in enumerate(_texts(raw.get("parts")))]
        named += [(at, part_and_surface(each)[0]) for at, each in _surfaces(raw)]
        for at, part in named:
            if isinstance(part, str) and part.strip() and part.strip() not in known:
                self._dangling((*place, *at), str(at[0]), "part", part.strip(), self.part_ids)

    def _part_names(self) -> list[str]:
        """All parts of the job, each once: where none has a table, those that operations name; none where they are not
        known.
        """
        if not self.parts_known:
            return []
        tables = [] if self.part_ids else self.source.tables("operation")
        told = (
            name for _, raw in tables for name in _texts([raw.get("part"), *_texts(raw.get("parts"))]) if name
        )
        return list(dict.fromkeys((*self.part_ids, *told)))

    def _check_notes(
        self, place: Place, table: OperationTable, raw: dict[str, Any], names: Sequence[str]
    ) -> None:
        """What the notes of an operation say is about parts (`names`), surfaces and settings that there are."""
        settings = raw.get("settings", {})
        wrong = wrong_notes(
            table.notes,
            list(settings) if isinstance(settings, dict) else (),
            names,
            self.reach,
            self.made if self.joints_known else None,
            self.unit,
        )
        self.source.complain((*place, "notes"), wrong)

    def _reach(self, part: Part) -> Reach:
        """How far pencil lines on a part may lie from its surfaces, mm: on the rough piece before it is sawn, across a
        panel's other boards once it is glued up.
        """
        if self.shop is None or self.shop.joinery is None:
            return None, None, None
        length, width, thickness = self.shop.joinery.allowance.rough(part, self.unit)
        in_panels = not self.source.tells_all("joint") or any(
            raw.get("kind") == "edge-to-edge" and part.id in _texts(raw.get("parts"))
            for _, raw in self.source.tables("joint")
        )
        return length, None if in_panels else width, thickness

    def _settle_measures(self) -> None:
        """A setting of which the shop tells nothing measures names where the job gives it names."""
        if self.shop is None:
            return
        for _, raw in self.source.tables("operation"):
            settings, station = raw.get("settings"), str(raw.get("station")).strip()
            for name, value in settings.items() if isinstance(settings, dict) else ():
                untold = (station, name) in self.shop.untold and self.shop.settings.get((station, name))
                options = value.get("any") if isinstance(value, dict) else [value]
                if (
                    untold
                    and isinstance(options, list)
                    and any(isinstance(each, str) and not reads_as(each, untold.measures) for each in options)
                ):
                    self.shop.measures(station, name, "name")

    def _settings(self, place: Place, raw: dict[str, Any], optional: set[str]) -> dict[str, Wanted] | None:
        """What one operation asks of its station's settings; None where that is wrong."""
        station, asked = raw.get("station"), raw.get("settings", {})
        if self.shop is None or not isinstance(station, str) or not station.strip():
            return None
        if self.begun and self.shop.lacks(station.strip()):
            return {}  # what is left is asked of the shop where it is taken from the plan; likewise below
        if self.shop.lacks(station.strip()):
            self._dangling((*place, "station"), "station", "station of the shop", station, self.shop.stations)
            return None
        known = self.shop.stations.get(station.strip(), ())
        if not isinstance(asked, dict):
            return None
        wanted: dict[str, Wanted] = {}
        sound = True
        for name, value in asked.items():
            at = (*place, "settings", name)
            if self.begun and self.shop.lacks(station.strip(), name):
                continue
            if self.shop.lacks(station.strip(), name):
                accepted = ", ".join(sorted(known)) or "no settings: the station has none"
                self.source.say(
                    at, f'{station} has no setting "{shortened(name)}"{nearest(name, known)}', accepted
                )
                sound = False
                continue
            setting = self.shop.settings.get((station.strip(), name))
            if setting is None:
                sound = False  # the shop file has it wrong, and says so
                continue
            read = read_wanted(value, setting, self.unit)
            self.source.complain(at, read.wrong)
            sound = sound and not read.wrong
            if self.begun:
                pass
            elif read.beyond and isinstance(raw.get("id"), str) and raw["id"].strip() in optional:
                self.beyond.setdefault(raw["id"].strip(), []).extend(
                    self.source.fault((*at, *each.place), each.message, each.accepted) for each in read.beyond
                )
            else:
                self.source.complain(at, read.beyond)
            for each in read.left_out if not self.begun else ():
                what = f"{station.strip()}.{name} {each.message}"
                self.left_out.setdefault((what, each.accepted), []).append(str(raw.get("id")).strip())
            if read.wanted is not None:
                wanted[name] = read.wanted
        for name in wanted if not self.begun else ():
            base = self.shop.settings[station.strip(), name].measured_at
            if base in wanted and the_one(wanted[base]) is None:
                self.source.say((*place, "settings", base), *several_readings(name))
                sound = False
        return wanted if sound else None

    def _mates(self) -> list[MatesGroup]:
        source = self.source
        groups = []
        for index, raw in source.tables("mates"):
            place = ("mates", index)
            table: MatesTable | None = source.read(place, raw, MatesTable, self.unit)
            for number, id in enumerate(_texts(raw.get("operations"))):
                self._refer((*place, "operations", number), "operations", id)
            if self.shop is not None and not self.begun:
                held = [
                    f"{station}.{name}" for station, names in self.shop.stations.items() for name in names
                ]
                for number, name in enumerate(_texts(raw.get("hold"))):
                    of, dot, setting = name.partition(".")
                    if name and (self.shop.lacks(of, setting) if dot else name not in held):
                        self._dangling(
                            (*place, "hold", number), "hold", "setting of the shop", name, sorted(held)
                        )
            if table is not None:
                groups.append(MatesGroup(operations=table.operations, hold=table.hold, why=table.why))
        return groups

    def _choices(self) -> list[Choice]:
        source = self.source
        tables = source.tables("choice")
        source.twice("choice", tables)
        choices = []
        taken: dict[str, str] = {}
        for index, raw in tables:
            place = ("choice", index)
            table: ChoiceTable | None = source.read(place, raw, ChoiceTable, self.unit)
            options = raw.get("options")
            here: set[str] = set()
            for option, ids in options.items() if isinstance(options, dict) else ():
                for number, id in enumerate(_texts(ids)):
                    at = (*place, "options", option, number)
                    self._refer(at, option, id, may_fall_away=False)
                    if id in taken:
                        message = f'operation "{id}" stands in choice "{taken[id]}" already'
                        source.say(at, message, "each operation in one choice only")
                    here.add(id)
            taken.update(dict.fromkeys(here, str(raw.get("id", index + 1))))
            if table is not None:
                choices.append(Choice(id=table.id, options=table.options))
        return choices


def _too_many(quantity: int, batch: int, spare: int) -> tuple[str, str] | None:
    """What to say of more pieces than can be counted, and what would be accepted; None where they can."""
    pieces = quantity * batch + spare
    if pieces <= MOST_PIECES:
        return None
    spares = f", with {spare} spare," if spare else ""
    message = f"a quantity of {quantity} in a batch of {batch}{spares} makes {pieces} pieces"
    return message, f"at most {MOST_PIECES} pieces in the whole batch"


def _unknown_joints(operations: Sequence[Operation], joints: Sequence[str]) -> Iterator[str]:
    """A remark for each operation by hand whose joint there is not, but whose name is a slip of one that there is: any
    other may be a joint that is made by hand."""
    for operation in operations:
        name = operation.joint
        if name and name not in joints and (meant := [each for each in joints if is_slip(name, each)]):
            yield (
                f'operation "{shortened(operation.id)}": {no_such("joint", "joint", name, meant)}, so no rule for '
                "operations of one joint binds it to those of that one"
            )


def _texts(raw: Any) -> list[str]:
    return [each.strip() if isinstance(each, str) else "" for each in raw] if isinstance(raw, list) else []


def _surfaces(raw: dict[str, Any]) -> Iterator[tuple[Place, str]]:
    """The surfaces an operation names, as written, and where."""
    if isinstance(raw.get("surface"), str) and raw["surface"].strip():
        yield ("surface",), raw["surface"]
    for key in ("registers_on", "makes", "destroys"):
        for number, each in enumerate(_texts(raw.get(key))):
            if each:
                yield (key, number), each


def _named(raw: dict[str, Any]) -> Iterator[Named]:
    """The surfaces an operation names, with their parts."""
    own = tuple(part for part in dict.fromkeys(_texts([raw.get("part"), *_texts(raw.get("parts"))])) if part)
    for at, text in _surfaces(raw):
        part, surface = part_and_surface(text)
        yield Named(at, surface, own if part is None else (part,) if part else ())


def _struck(job: Job, beyond: dict[str, list[Fault]]) -> Job:
    """The job without the options that ask for what a setting cannot reach.

    Raises NoOrderError where a choice has no option left.
    """
    struck: list[StruckOut] = []
    kept: list[Choice] = []
    impossible: list[Fault] = []
    for choice in job.choices:
        options = {}
        for name, ids in choice.options.items():
            faults = [fault for id in ids for fault in beyond.get(id, ())]
            if not faults:
                options[name] = ids
                continue
            why = "; ".join(f"{fault.where}: {fault.message}" for fault in faults)
            struck.append(StruckOut(joint=choice.id, way=name, why=why))
        if not options:
            why = "; ".join(f'option "{each.way}": {each.why}' for each in struck if each.joint == choice.id)
            message = f"no option of this choice can be made: {why}"
            impossible.append(job.fault("choice", choice.id, message))
        kept.append(Choice(id=choice.id, options=options))
    if impossible:
        raise NoOrderError(impossible)
    before = {id for choice in job.choices for id in choice.operations}
    gone = before.difference(*(choice.operations for choice in kept))
    # mates may name derived operations, too, which nobody has made yet
    named = {id for group in job.mates for id in group.operations}
    return job.model_copy(
        update={
            "operations": tuple(
                operation.model_copy(update={"after": tuple(id for id in operation.after if id not in gone)})
                for operation in job.operations
                if operation.id not in gone
            ),
            "mates": only_made(job.mates, named - gone),
            "choices": tuple(kept),
            "struck_out": tuple(struck),
        }
    )
