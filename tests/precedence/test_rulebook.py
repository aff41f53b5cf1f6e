"""Rule books: what they say of small worklists, and what is said of a book that is wrong."""

from __future__ import annotations

import ast
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

import sequencer
from sequencer import load_job
from sequencer.diagnostics import InputError
from sequencer.files.source import Source
from sequencer.model.rule import LAWS, Pattern, grain
from sequencer.operations import Operation, PlaneCut, Slot, Trench
from sequencer.pipeline import prepare
from sequencer.precedence.misspelt import misspelt_kinds, misspelt_rules
from sequencer.precedence.rulebook import in_force, load_books
from sequencer.report.terminal import print_rules

PACKAGE = Path(sequencer.__file__).parent


def op(id: str, kind: str, part: str = "front", **more: object) -> Operation:
    """An operation on one part ("" for none)."""
    return Operation(id=id, station="bench", kind=kind, parts=(part,) if part else (), **more)


def trench(long_way: str) -> Trench:
    """A channel 6 wide and 5 deep that runs along or across the grain."""
    high = (400.0, 6.0, 5.0) if long_way == "along" else (6.0, 90.0, 5.0)
    return Trench(part="front", surface="groove", low=(0.0, 0.0, 0.0), high=high)


def plane(normal: tuple[float, float, float]) -> PlaneCut:
    """A plane cut with its waste on the side of `normal`."""
    return PlaneCut(part="front", surface="cut", point=(0.0, 0.0, 0.0), normal=normal)


CASE = ("front", "side")

EXAMPLES: dict[str, list[Operation]] = {
    "face-before-edge": [op("a", "mill", makes=("front/face",)), op("b", "mill", makes=("front/edge",))],
    "reference-before-cuts": [op("a", "mill", makes=("front/face", "front/edge")), op("b", "plunge")],
    "rough-cut-before-milling": [op("a", "rough-cut"), op("b", "mill", makes=("front/face",))],
    "width-before-length": [op("a", "rip"), op("b", "crosscut")],
    "mark-before-plunge": [op("a", "mark", joint="corner"), op("b", "plunge", joint="corner")],
    "block-before-plunge": [op("a", "block", part="", joint="corner"), op("b", "plunge", joint="corner")],
    "square-before-bevel": [
        op("a", "crosscut", makes=("front/left end",)),
        op("b", "bevel", destroys=("front/left end",)),
    ],
    "mortise-before-tenon": [op("a", "plunge", joint="rail"), op("b", "slip", part="slips", joint="rail")],
    "ends-before-edges": [
        op("a", "rebate", cuts=(trench("across"),)),
        op("b", "bevel", cuts=(plane((0.0, 0.8, 0.6)),)),
    ],
    "housing-before-width": [op("a", "housing", cuts=(trench("across"),)), op("b", "rip")],
    "plunge-before-rebate": [op("a", "plunge", registers_on=("front/left end",)), op("b", "rebate")],
    "joint-before-fit": [
        op("a", "bevel", joint="corner"),
        Operation(id="b", station="bench", kind="dry-fit", parts=CASE),
    ],
    "dry-fit-before-glue": [
        Operation(id="a", station="bench", kind="dry-fit", parts=CASE),
        Operation(id="b", station="bench", kind="glue", parts=(*CASE, "bottom")),
    ],
    "groove-before-glue": [op("a", "groove"), Operation(id="b", station="bench", kind="glue", parts=CASE)],
    "rebate-before-glue": [op("a", "rebate"), Operation(id="b", station="bench", kind="glue", parts=CASE)],
    "inside-before-glue": [op("a", "sand"), Operation(id="b", station="bench", kind="glue", parts=CASE)],
    "glue-before-clean-up": [
        Operation(id="a", station="bench", kind="glue", parts=CASE),
        op("b", "clean-up"),
    ],
    "cuts-before-sanding": [op("a", "plunge"), op("b", "sand")],
    "groove-while-long": [op("a", "groove", cuts=(trench("along"),)), op("b", "crosscut")],
    "groove-before-bevel": [
        op("a", "groove", cuts=(trench("along"),)),
        op("b", "bevel", cuts=(plane((0.7071, 0.0, -0.7071)),)),
    ],
}
"""For each rule two operations, listed the wrong way round below, that it puts in order: "a" before "b"."""


def pairs(rule_id: str, operations: list[Operation]) -> list[tuple[str, str]]:
    """The pairs one rule of the package's books puts in order."""
    (rule,) = (rule for rule in in_force(load_books()) if rule.id == rule_id)
    return [(before.id, after.id) for before, after in rule.pairs(operations)]


def test_examples_are_complete() -> None:
    """Every rule of every book has its example here, and every example its rule."""
    assert set(EXAMPLES) == {rule.id for rule in in_force(load_books())}


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_rule_orders_its_example(rule_id: str) -> None:
    """Each rule puts its example in order, however it is listed."""
    a, b = EXAMPLES[rule_id]
    assert pairs(rule_id, [a, b]) == [("a", "b")]
    assert pairs(rule_id, [b, a]) == [("a", "b")]


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_rule_leaves_strangers_alone(rule_id: str) -> None:
    """No rule of the package's books orders operations on unlike parts, joints and surfaces."""
    a, b = EXAMPLES[rule_id]
    stranger = b.model_copy(
        update={
            "parts": tuple(f"other {part}" for part in b.parts),
            "joint": "other" if b.joint else "",
            "destroys": tuple(f"other {surface}" for surface in b.destroys),
        }
    )
    assert pairs(rule_id, [a, stranger]) == []


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_rule_needs_a_kind(rule_id: str) -> None:
    """No rule of the package's books speaks of operations whose kind is not stated."""
    a, b = (operation.model_copy(update={"kind": ""}) for operation in EXAMPLES[rule_id])
    assert pairs(rule_id, [a, EXAMPLES[rule_id][1]]) == []
    assert pairs(rule_id, [EXAMPLES[rule_id][0], b]) == []


def test_what_goes_into_an_assembly_is_made_before_it() -> None:
    """What registers on a panel is not put together dry before the panel is glued: these are two assemblies."""
    glued = Operation(id="a", station="bench", kind="glue", parts=("board",), makes=("board/glued-up panel",))
    dry = Operation(id="b", station="bench", kind="dry-fit", parts=(*CASE, "board"))
    assert pairs("dry-fit-before-glue", [glued, dry]) == [("b", "a")]
    dry = dry.model_copy(update={"registers_on": glued.makes})
    assert pairs("dry-fit-before-glue", [glued, dry]) == []


def test_inside_faces_are_sanded_before_any_glue_up_of_a_part() -> None:
    """Also where some of what is sanded is glued up elsewhere; but a panel is sanded once it is one."""
    sand = Operation(id="a", station="bench", kind="sand", parts=("side", "lid"))
    glue = Operation(
        id="b", station="bench", kind="glue", parts=("side", "bottom"), makes=("side/glued-up panel",)
    )
    assert pairs("inside-before-glue", [sand, glue]) == [("a", "b")]
    sand = sand.model_copy(update={"registers_on": ("side/back", "side/glued-up panel")})
    assert pairs("inside-before-glue", [sand, glue]) == []


def test_work_on_several_parts_is_on_the_surface_of_each(tmp_path: Path) -> None:
    """Oiling the faces of side and lid in one go is work on the face of the lid, too."""
    text = "".join(
        f'[[operation]]\nid = "{id}"\nkind = "{id}"\nstation = "bench"\nparts = {parts}\nsurface = "face"\n'
        for id, parts in (("oil", '["side", "lid"]'), ("wax", '["lid"]'))
    )
    book = '[book]\ntitle = "Own"\n[kinds]\noil = "oiled"\nwax = "waxed"\n'
    book += '[[rule]]\nid = "oil-first"\nsays = "Oil first."\n'
    book += (
        'why = "it soaks in"\nsource = "common practice, no source"\nstrength = "must"\nsame = "surface"\n'
    )
    (tmp_path / "own.toml").write_text(book + 'before = { kind = "oil" }\nafter = { kind = "wax" }\n')
    (tmp_path / "shop.toml").write_text('[shop]\n[rules]\nbooks = ["own.toml"]\n[[station]]\nid = "bench"\n')
    (tmp_path / "job.toml").write_text(f'[job]\nname = "j"\nshop = "shop.toml"\n{text}')
    edges = prepare(load_job(tmp_path / "job.toml")).edges
    assert [(edge.before, edge.after) for edge in edges] == [("oil", "wax")]


def test_sources_are_named_or_owned_up_to() -> None:
    """Every rule names a textbook that has been seen, or says that it has no source."""
    # The textbooks whose statements were seen: Noyes (1910), Ross, Foster sect. 22.
    seen = (
        "W. Noyes, Handwork in Wood",
        "G. A. Ross, Elementary Course",
        "E. W. Foster, Elementary Woodworking",
    )
    for rule in in_force(load_books()):
        assert rule.source == "common practice, no source" or rule.source.startswith(seen), rule.id


def test_only_face_then_edge_is_law_in_milling() -> None:
    """Of the order of milling only face, edge, then the rest is a must: on width and length the textbooks
    differ.

    Foster, Elementary Woodworking, sect. 22: face, edge, width, thickness, length; a manual-training text of
    the same time: face, edge, end, length, width, thickness.
    """
    (milling,) = (book for book in load_books() if book.title == "Milling")
    must = {rule.id for rule in milling.rules if rule.strength == "must"}
    assert must == {"face-before-edge", "reference-before-cuts"}


def test_rule_ids_in_code_exist() -> None:
    """Every rule id written in the package's code is a law or stands in a book."""
    known = {rule.id for rule in in_force(load_books())} | set(LAWS)
    used = {
        keyword.value.value
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        for keyword in node.keywords
        if keyword.arg == "rule" and isinstance(keyword.value, ast.Constant)
    }
    assert used <= known


def test_kinds_are_explained_once() -> None:
    """No kind of operation is explained in two books of the package."""
    kinds = [kind for book in load_books() for kind in book.kinds]
    assert len(kinds) == len(set(kinds))


@pytest.mark.parametrize(
    ("operation", "way"),
    [
        (op("a", "rip"), "along"),
        (op("a", "crosscut"), "across"),
        (op("a", "groove"), ""),
        (op("a", "groove", cuts=(trench("along"),)), "along"),
        (op("a", "groove", cuts=(trench("across"),)), "across"),
        (op("a", "groove", cuts=(trench("along"), trench("across"))), ""),
        (op("a", "bevel", cuts=(plane((0.0, 0.6, 0.8)),)), "along"),
        (op("a", "bevel", cuts=(plane((0.6, 0.0, 0.8)),)), "across"),
    ],
)
def test_grain_of_a_cut(operation: Operation, way: str) -> None:
    """The way a cut runs comes from its geometry; from its kind only for rip and crosscut without
    geometry."""
    assert grain(operation) == way


def test_mortise_has_no_way_of_the_grain() -> None:
    """A mortise runs neither along nor across the grain."""
    slot = Slot(
        part="front",
        joint="corner",
        mouth=(0.0, 50.0, 9.0),
        axis=(1.0, 0.0, 0.0),
        along=(0.0, 1.0, 0.0),
        length=30.0,
        width=6.0,
        depth=15.0,
    )
    assert grain(op("a", "plunge", cuts=(slot,))) == ""


def test_pattern_stars_and_lists() -> None:
    """In every name `*` stands for anything, and a list for any of its names."""
    crosscut = op("a", "crosscut", makes=("front/left end",), surface="front/left end")
    assert Pattern(makes=["* end"]).fits(crosscut)
    assert Pattern(surface="left end", part="fr*", station="bench").fits(crosscut)
    assert not Pattern(makes=["edge", "face"]).fits(crosscut)
    assert not Pattern(except_="crosscut").fits(crosscut)
    assert Pattern(kind="*cut").fits(crosscut)
    assert not Pattern(kind="cross").fits(crosscut)
    assert not Pattern(except_="cross*").fits(crosscut)
    assert Pattern(except_="dry-*").fits(crosscut)
    assert not Pattern(kind="*").fits(op("c", ""))  # a kind that is not stated is none
    rip = op("b", "rip", registers_on=("front/edge",))
    assert Pattern(registers_on="reference edge").fits(rip)
    assert not Pattern(registers_on="reference face").fits(rip)


def test_a_pattern_fits_by_any_part_and_by_no_grain_that_is_not_known() -> None:
    """Of work on several parts one that is named is enough. Work by hand has a grain only as a rip or a crosscut."""
    drilled = Operation(id="a", station="bench", kind="drill", parts=("front", "side"))
    assert Pattern(part="side").fits(drilled)
    assert not Pattern(part="back").fits(drilled)
    for way in ("along", "across"):
        assert not Pattern(grain=way).fits(drilled)
        assert Pattern(grain=way).fits(op("b", "rip")) == (way == "along")


@pytest.mark.parametrize("part", ["side [left]", "side?", "side.*"])
def test_only_stars_stand_for_other_signs(part: str) -> None:
    """Every sign of a pattern but `*` stands for itself, so a name with brackets or a dot fits itself alone."""
    assert Pattern(part=part.replace("*", "")).fits(op("a", "rip", part=part.replace("*", "")))
    assert not Pattern(part=part).fits(op("a", "rip", part="side l"))
    assert not Pattern(part=part).fits(op("a", "rip", part="sideX"))


def test_a_rebate_is_cut_on_the_loose_part_by_preference() -> None:
    """Unlike a groove, which has to be: a panel's ends or a case's back may be rebated when they are one piece (common
    practice, no source)."""
    glue = Operation(id="b", station="bench", kind="glue", parts=CASE)
    bound = {rule.strength for rule in in_force(load_books()) if list(rule.pairs([glue, op("a", "rebate")]))}
    assert bound == {"prefer"}
    assert pairs("rebate-before-glue", [glue, op("a", "rebate")]) == [("a", "b")]
    assert pairs("groove-before-glue", [glue, op("a", "groove")]) == [("a", "b")]


def test_joint_without_a_name() -> None:
    """What names no joint counts for all joints of its parts; two joints on one part are left apart."""
    ring = Operation(id="fit", station="bench", kind="dry-fit", parts=("side",))
    assert pairs("joint-before-fit", [op("a", "plunge", part="side", joint="corner"), ring]) == [("a", "fit")]
    assert pairs("mark-before-plunge", [op("a", "mark"), op("b", "plunge")]) == [("a", "b")]
    assert (
        pairs("mark-before-plunge", [op("a", "mark", joint="corner"), op("b", "plunge", joint="rail")]) == []
    )


def test_assemblies_that_only_overlap_are_apart() -> None:
    """A dry fit is ordered with a glue-up only where the parts of one are all parts of the other."""
    fit = Operation(id="fit", station="bench", kind="dry-fit", parts=("front", "bottom"))
    glue = Operation(id="glue", station="bench", kind="glue", parts=CASE)
    assert pairs("dry-fit-before-glue", [fit, glue]) == []


BOOK = """\
[book]
title = "Ours"

[kinds]
spray = "lacquer sprayed on"

[[rule]]
id = "sand-before-spray"
says = "Parts are sanded before they are sprayed."
why = "lacquer shows every scratch"
source = "common practice, no source"
strength = "must"
same = "part"
before = { kind = "sand" }
after = { kind = "spray" }

[[rule]]
id = "spray-last"
says = "Spraying comes last."
why = "dust settles on wet lacquer"
source = "our own habit"
strength = "prefer"
price = 2
same = "job"
before = { except = "spray" }
after = { kind = "spray" }
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A shop's own book, invented."""
    path = tmp_path / "ours.toml"
    path.write_text(BOOK, encoding="utf-8")
    return path


def test_own_book_is_added(book: Path) -> None:
    """A shop's own book adds its rules and kinds behind those of the package."""
    rules = in_force(load_books([book]))
    assert [rule.id for rule in rules[-2:]] == ["sand-before-spray", "spray-last"]
    assert rules[-1].price_minutes == 2
    assert rules[-1].book == "Ours"
    found = rules[-1].pairs([op("s", "spray"), op("a", "rip", part="lid"), op("b", "", part="lid")])
    assert [(before.id, after.id) for before, after in found] == [("a", "s")]


def test_kinds_by_a_star(book: Path) -> None:
    """`*` stands for anything in kinds, too; a name with it that no kind is like is refused as any unknown one."""
    book.write_text(BOOK.replace('{ kind = "sand" }', '{ kind = "dry-*" }'), encoding="utf-8")
    found = in_force(load_books([book]))[-2].pairs([op("s", "spray"), op("d", "dry-fit"), op("m", "sand")])
    assert [(before.id, after.id) for before, after in found] == [("d", "s")]
    book.write_text(BOOK.replace('{ kind = "sand" }', '{ kind = "dy-*" }'), encoding="utf-8")
    (said,) = faults(book)
    assert '14: rule "sand-before-spray": no book explains the kind "dy-*"' in said


def test_except_may_take_away_some_of_the_kinds_that_are_named(book: Path) -> None:
    """Of sanding and gluing less sanding, gluing is left: no fault, and what the pattern fits."""
    some = '{ kind = ["sand", "glue"], except = "sand" }'
    book.write_text(BOOK.replace('{ kind = "sand" }', some), encoding="utf-8")
    rule = next(rule for rule in in_force(load_books([book])) if rule.id == "sand-before-spray")
    assert [kind for kind in ("sand", "glue", "spray") if rule.before.fits(op("a", kind))] == ["glue"]


def test_rules_switched_off(book: Path) -> None:
    """A rule that is switched off is gone, and nothing else is, in own books too."""
    left = {rule.id for rule in in_force(load_books([book]), ["groove-while-long", "spray-last"])}
    assert {rule.id for rule in in_force(load_books([book]))} - left == {"groove-while-long", "spray-last"}


def test_patterns_that_fit_both_ways_say_nothing(book: Path) -> None:
    """Where two operations fit both patterns either way round, no order is drawn from the rule."""
    text = BOOK.replace('before = { except = "spray" }', 'before = { kind = ["spray", "rip"] }')
    book.write_text(text.replace('after = { kind = "spray" }', 'after = { kind = ["spray", "glue"] }'))
    rule = in_force(load_books([book]))[-1]
    found = rule.pairs([op("a", "spray"), op("b", "spray"), op("c", "rip"), op("d", "glue")])
    expected = {("a", "d"), ("b", "d"), ("c", "a"), ("c", "b"), ("c", "d")}
    assert {(before.id, after.id) for before, after in found} == expected


def faults(path: Path) -> list[str]:
    """What is said of a book, each fault with its line."""
    with pytest.raises(InputError) as error:
        load_books([path])
    assert error.value.exit_code == 2
    return [
        f"{fault.line}: {fault.where}: {fault.message} | {fault.accepted}" for fault in error.value.faults
    ]


@pytest.mark.parametrize(
    ("old", "new", "line", "expected"),
    [
        ("why =", "wy =", 10, ['unknown key "wy" (did you mean "why"?)', "why is missing"]),
        ('"must"', '"shall"', 12, ['"must" or "prefer"']),
        ("price = 2\n", "", 17, ["a preference needs a price above 0"]),
        ("price = 2", "price = -2", 23, ["a preference needs a price above 0"]),
        ("price = 2", "price = 0", 23, ["a preference needs a price above 0"]),
        ("price = 2", "price = nan", 23, ["finite"]),
        (
            "price = 2",
            "price = 1e30",
            23,
            ["price must be a number of minutes a shop can use, not 1e+30", "above 0, at most 10000000"],
        ),
        ("price = 2", "price = true", 23, ["price must be a number of minutes, not true"]),
        ('"must"', '"must"\nprice = 1', 13, ["a must has no price"]),
        ('{ kind = "sand" }', '{ knd = "sand" }', 14, ['unknown key "knd" (did you mean "kind"?)', "before"]),
        (
            '{ kind = "sand" }',
            '{ kind = "snd" }',
            14,
            ['no book explains the kind "snd" (did you mean "sand"?)'],
        ),
        ('{ kind = "sand" }', "{ kind = 3 }", 14, ["not 3"]),
        ('{ kind = "sand" }', "{ }", 14, ["an empty pattern would fit every operation"]),
        ('{ kind = "sand" }', '{ kind = "spray" }', 15, ["both patterns are the same"]),
        ('{ kind = "sand" }', '{ kind = "sand", grain = "with" }', 14, ['"along" or "across"']),
        ('"spray-last"', '"groove-while-long"', 18, ["used already in", "safety.toml"]),
        ('"spray-last"', '"sand-before-spray"', 18, ["used already in", "ours.toml"]),
        ('"spray-last"', '"surface-made"', 18, ["the name of a law"]),
        ('"spray-last"', '"Spray last"', 18, ["is not an id", "small letters"]),
        ('"our own habit"', '""', 21, ["source must be text that can be seen"]),
        ('"Spraying comes last."', '"  "', 19, ["says must be text that can be seen"]),
        ('{ kind = "sand" }', "{ kind = [] }", 14, ["kind must have at least 1 entry"]),
        ('title = "Ours"', 'titel = "Ours"', 2, ['unknown key "titel" (did you mean "title"?)']),
        (
            "[book]",
            "[bock]",
            1,
            ['unknown table "bock" (did you mean "book"?)', "the table [book] is missing"],
        ),
        ('same = "part"', "same = part", 13, ["not valid TOML"]),
        (
            '{ kind = "sand" }',
            '{ kind = "sand", except = "sand" }',
            14,
            ["nothing fits this pattern: except takes away all it names"],
        ),
        ('{ except = "spray" }', '{ except = "*" }', 25, ["nothing fits this pattern"]),
        ("[kinds]", '[kinds]\nrip = "again"', 5, ['the kind "rip" is explained already in', "milling.toml"]),
        ('"lacquer sprayed on"', '" "', 5, ['spray must be text that can be seen, not ""']),
    ],
)
def test_faults_of_a_book(book: Path, old: str, new: str, line: int | None, expected: list[str]) -> None:
    """A wrong book is refused with what is wrong, the line where it stands, and what would pass."""
    book.write_text(BOOK.replace(old, new, 1), encoding="utf-8")
    said = faults(book)
    for text in expected:
        assert any(text in each for each in said), said
    assert any(each.startswith(f"{line}: ") for each in said), said


def test_a_book_of_the_package_is_not_named_again(tmp_path: Path) -> None:
    """Its rules are in force anyway: one fault says so, and none that each of its ids is used already."""
    (tmp_path / "job.toml").write_text(
        '[job]\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "saw"\n', encoding="utf-8"
    )
    rules = next(path for path in (PACKAGE / "rules", PACKAGE.parent / "rules") if path.is_dir())
    (tmp_path / "shop.toml").write_text(
        f'[shop]\n[[station]]\nid = "saw"\n[rules]\noff = ["nix"]\nbooks = ["{rules.as_posix()}/milling.toml"]\n',
        encoding="utf-8",
    )
    with pytest.raises(InputError) as refused:
        load_job(tmp_path / "job.toml")
    assert [(fault.line, fault.message) for fault in refused.value.faults] == [
        (5, 'there is no rule "nix"'),
        (6, '"milling.toml" is a rule book of the program, which is in force anyway'),
    ]


def test_all_faults_at_once(book: Path) -> None:
    """All faults of all books are told at once."""
    text = (
        BOOK.replace('"snd"', '"sand"')
        .replace("price = 2\n", "")
        .replace('{ kind = "sand" }', '{ kind = "snd" }')
    )
    book.write_text(text, encoding="utf-8")
    other = book.with_name("other.toml")
    other.write_text("[book]\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        load_books([book, other])
    assert len(error.value.faults) == 3


def test_book_that_is_not_there(tmp_path: Path) -> None:
    """A book that is missing, a folder, or no text is refused, each with its reason."""
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    reasons = {"missing.toml": "no such file", "": "this is a folder", "binary.toml": "not UTF-8"}
    for name, reason in reasons.items():
        (said,) = faults(tmp_path / name)
        assert reason in said


def test_unknown_rule_switched_off() -> None:
    """Switching off a rule that no book has is refused with the nearest id; so is switching off a law."""
    with pytest.raises(InputError) as error:
        in_force(load_books(), ["groove-while-lng", "surface-kept"])
    first, second = error.value.faults
    assert 'there is no rule "groove-while-lng" (did you mean "groove-while-long"?)' in first.message
    assert "cannot be switched off" in second.message


def test_a_rule_carries_all_its_book_says(book: Path) -> None:
    """A rule has statement, reason, source, strength, price and book as they are written."""
    rule = in_force(load_books([book]))[-1]
    assert (rule.id, rule.says, rule.why) == (
        "spray-last",
        "Spraying comes last.",
        "dust settles on wet lacquer",
    )
    assert (rule.source, rule.strength, rule.price_minutes, rule.book) == (
        "our own habit",
        "prefer",
        2.0,
        "Ours",
    )


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ('station = "table saw"', 'the shop has no station "table saw" (did you mean "saw"?)'),  # its name
        ('station = "mortisr"', 'the shop has no station "mortisr" (did you mean "mortiser"?)'),
        ('station = "lathe"', 'the shop has no station "lathe"'),  # a book for another shop
        ('station = ["lathe", "saw"]', ""),  # a book for several shops
        ('station = "lat*"', ""),
        ('part = "sides"', 'the job has no part "sides" (did you mean "side"?)'),
        ('part = "drawer"', ""),  # of another job
        ('part = ["sides", "side"]', ""),
        ('station = "saw", part = "bot*"', ""),
    ],
)
def test_rules_for_what_is_not_there_are_remarked(tmp_path: Path, pattern: str, said: str) -> None:
    """By `check` and `rules JOB`, not refused; a rule that is for something else that is there, too, is not."""
    examples = Path(__file__).parents[2] / "examples"
    book = (
        '[book]\ntitle = "Ours"\n[[rule]]\nid = "r"\nsays = "s"\nwhy = "w"\nsource = "our own habit"\n'
        f'strength = "prefer"\nprice = 1\nsame = "part"\nbefore = {{ {pattern} }}\nafter = {{ kind = "dry-fit" }}\n'
    )
    (tmp_path / "own.toml").write_text(book)
    (tmp_path / "job.toml").write_text(
        (examples / "mitred-box" / "job.toml").read_text().replace("../shop.toml", "shop.toml")
    )
    shop = (examples / "shop.toml").read_text()
    (tmp_path / "shop.toml").write_text(shop.replace("[joinery]", '[rules]\nbooks = ["own.toml"]\n[joinery]'))
    job = load_job(tmp_path / "job.toml")
    wanted = (f'rule "r" of Ours, before: {said}, so the rule binds nothing',) if said else ()
    found = in_force(load_books(job.shop.rules.books))
    assert misspelt_rules(found, job) == wanted
    assert tuple(each for each in prepare(job).worklist.remarks if "the rule binds" in each) == wanted
    out = StringIO()
    print_rules(found, Console(file=out, width=300, _environ={}), misspelt_rules(found, job))
    shown = " ".join(out.getvalue().split())
    assert shown.endswith(f"removed. remark {wanted[0]}" if wanted else "removed.")


def test_the_books_of_the_package_name_no_station_or_part() -> None:
    """They cannot know what a shop calls them: nothing is ever remarked of them."""
    for rule in in_force(load_books()):
        assert not any((rule.before.station, rule.before.part, rule.after.station, rule.after.part))


def test_books_are_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a job that is read and prepared, with and without a rule, each rule book is read once."""
    read: list[str] = []

    def source(path: Path, what: str) -> Source:
        read.append(path.name)
        return Source(path, what)

    monkeypatch.setattr("sequencer.precedence.rulebook.Source", source)
    job = load_job(PACKAGE.parent / "examples" / "tea-boxes" / "job.toml")
    prepare(job)
    prepare(job, ("width-before-length",))
    assert sorted(read) == ["assembly.toml", "joinery.toml", "milling.toml", "safety.toml"]


def test_misspelt_kinds_are_told() -> None:
    """A kind that is nearly one of the books' is told with its operations; a word of the shop's own is not."""
    operations = [op("a", "crosscutt"), op("b", "crosscutt"), op("c", "oil"), op("d", "rip"), op("e", "")]
    assert misspelt_kinds(operations, load_books()) == (
        'no rule book explains the kind "crosscutt" (did you mean "crosscut"?) of "a", "b": '
        "no rule for a kind binds it",
    )
