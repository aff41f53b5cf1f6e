"""Operations and choices written by hand beside derived ones, and ids that come to the same: refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequencer import load_job, plan
from sequencer.cards.setup_cards import cards
from sequencer.diagnostics import InputError, NoOrderError
from sequencer.model.surfaces import by_part, known_of, made_by
from sequencer.pipeline import prepare

SHOP = Path(__file__).parents[1] / "examples" / "shop.toml"

PART = '[[part]]\nid = "{}"\nlength = 200\nwidth = 120\nthickness = 16\nquantity = 4\n'
CORNER = PART.format("side") + '[[joint]]\nid = "corner"\nkind = "case-mitre"\nparts = ["side"]\n'
GROOVE = '[[joint]]\nid = "{}"\nkind = "groove"\nparts = ["{}"]\nfrom = {}\nwidth = 6\ndepth = 5\n'
OWN = '[[operation]]\nid = "x"\nstation = "bench"\n[[operation]]\nid = "y"\nstation = "bench"\n'


def faults(folder: Path, tables: str) -> list[str]:
    """What preparing a job of these tables (from line 3 on) ends in."""
    (folder / "shop.toml").write_text(SHOP.read_text(encoding="utf-8"), encoding="utf-8")
    path = folder / "job.toml"
    path.write_text(f'[job]\nshop = "shop.toml"\n{tables}', encoding="utf-8")
    with pytest.raises(InputError) as refused:
        prepare(load_job(path))
    return [str(fault).replace(f"{folder}/", "") for fault in refused.value.faults]


def test_an_option_cannot_take_an_operation_of_a_derived_choice(tmp_path: Path) -> None:
    """An operation stands in one choice at most, whoever made the choice."""
    choice = '[[choice]]\nid = "mine"\noptions = { a = ["corner-bevel-first-plunge-side-right-bevel"], b = ["x"] }\n'
    assert faults(tmp_path, CORNER + OWN + choice) == [
        'job.toml:21: choice "mine", options.a: operation "corner-bevel-first-plunge-side-right-bevel" stands in '
        'choice "corner" already, which is derived\n    accepted: each operation in one choice only'
    ]


def test_a_choice_cannot_have_the_id_of_a_derived_one(tmp_path: Path) -> None:
    """The choice between the ways of a joint has the joint's id."""
    choice = '[[choice]]\nid = "corner"\noptions = { a = ["x"], b = ["y"] }\n'
    assert faults(tmp_path, CORNER + OWN + choice) == [
        'job.toml:19: choice "corner": a choice of this id is derived from the joint of that id already\n'
        "    accepted: an id of its own"
    ]


@pytest.mark.parametrize(
    ("one", "other", "made"), [("rail", "Rail", "mill-rail"), ("!", "?", "mill"), ("a b", "a-b", "mill-a-b")]
)
def test_parts_whose_ids_come_to_the_same(tmp_path: Path, one: str, other: str, made: str) -> None:
    """Ids of derived operations keep letters and digits only; parts that they would not tell apart are refused."""
    tables = PART.format(one) + PART.format(other) + GROOVE.format("g", one, 8) + GROOVE.format("h", other, 8)
    assert faults(tmp_path, tables)[0] == (
        f'job.toml:9: part "{other}": with part "{one}" it makes two operations of one id, "{made}"\n'
        "    accepted: ids that differ in letters or digits, not in signs or capitals only"
    )


def test_joints_whose_ids_come_to_the_same(tmp_path: Path) -> None:
    """The same for joints."""
    tables = PART.format("side") + GROOVE.format("A b", "side", 8) + GROOVE.format("a-b", "side", 30)
    assert faults(tmp_path, tables) == [
        'job.toml:16: joint "a-b": with joint "A b" it makes two operations of one id, "a-b-groove-side"\n'
        "    accepted: ids that differ in letters or digits, not in signs or capitals only"
    ]


def test_what_is_said_of_the_words_and_values_of_operations_by_hand(tmp_path: Path) -> None:
    """A kind written wrong is a remark; mates that hold a setting at two values have no order (exit code 3)."""
    (tmp_path / "shop.toml").write_text(SHOP.read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "job.toml"
    rip = '[[operation]]\nid = "{}"\nstation = "saw"\nkind = "ripp"\nsettings = {{ tilt = {} }}\n'
    mates = '[[mates]]\noperations = ["a", "b"]\nhold = ["saw.tilt"]\n'
    path.write_text(
        f'[job]\nshop = "shop.toml"\n{rip.format("a", 10)}{rip.format("b", 10)}{mates}', encoding="utf-8"
    )
    assert [
        remark for remark in prepare(load_job(path)).worklist.remarks if '(did you mean "rip"?)' in remark
    ]
    path.write_text(path.read_text(encoding="utf-8").replace("tilt = 10", "tilt = 5", 1), encoding="utf-8")
    with pytest.raises(NoOrderError, match='"a" asks for 5° and "b" asks for 10°'):
        prepare(load_job(path))


@pytest.mark.parametrize(
    ("hold", "says"),
    [
        ("saw.tilt", None),
        # of the same station, and moved by the third one: it is to stay while the others are made
        ("saw.fence", None),
        ("saw.stop", "saw.stop, which no operation asks for: nothing would move it"),
        ("router.bit", "router.bit, which no operation asks for: nothing would move it"),
        (
            "mortiser.depth",
            "mortiser.depth, and none of them is at mortiser: no other operation moves it from the first to the last "
            "of them",
        ),
    ],
)
def test_mates_that_hold_what_they_have_nothing_to_do_with(
    tmp_path: Path, hold: str, says: str | None
) -> None:
    """A hold that binds nothing, or what is done at another station only, is most likely another setting: remarked."""
    (tmp_path / "shop.toml").write_text(SHOP.read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "job.toml"
    work = '[[operation]]\nid = "{}"\nstation = "{}"\nsettings = {{ {} }}\n'
    path.write_text(
        '[job]\nshop = "shop.toml"\n'
        + work.format("a", "saw", "tilt = 30")
        + work.format("b", "saw", "tilt = 30")
        + work.format("c", "saw", "fence = 60")
        + work.format("d", "mortiser", "depth = 12")
        + f'[[mates]]\noperations = ["a", "b"]\nhold = ["{hold}"]\n',
        encoding="utf-8",
    )
    remarks = prepare(load_job(path)).worklist.remarks
    assert remarks == (() if says is None else (f'mates "a", "b" hold {says}',))


def test_a_hold_of_what_leaving_loses_binds_though_none_asks_for_it(tmp_path: Path) -> None:
    """Nothing else is known of a clamp that no operation names: it is held by not leaving its station, without a
    remark; where that cannot be, the message says so.
    """
    shop = (
        '[shop]\n[[station]]\nid = "press"\n[[station.setting]]\nid = "clamp"\nmeasures = "number"\nreset = 1\n'
        'keeps = false\n[[station]]\nid = "saw"\n'
    )
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    path = tmp_path / "job.toml"
    job = '[job]\nshop = "shop.toml"\n[[mates]]\noperations = ["first", "second"]\nhold = ["press.clamp"]\n'
    for made in ('"first"\nstation = "press"', '"between"\nstation = "saw"', '"second"\nstation = "press"'):
        job += f"[[operation]]\nid = {made}\n"
    path.write_text(job, encoding="utf-8")
    assert prepare(load_job(path)).worklist.remarks == ()
    assert (
        abs([step.operation for step in plan(load_job(path), time_limit=2).steps].index("between") - 1) == 1
    )
    in_turn = job.replace('"between"\n', '"between"\nafter = ["first"]\n')
    path.write_text(in_turn + 'after = ["between"]\n', encoding="utf-8")
    with pytest.raises(NoOrderError, match=r"clamp \(lost when the work leaves its station\)"):
        plan(load_job(path), time_limit=2)


@pytest.mark.parametrize(
    ("operation", "pieces"),
    [
        ('part = "leg"\nquantity = 4', 7 * 4 + 2),
        ('part = "leg"\nquantity = 8', 7 * 8 + 4),  # both ends of each, say
        ('part = "leg"\nquantity = 2', 7 * 2),  # the front ones only
        ('part = "leg"\nquantity = 6', 7 * 6),  # no telling which
        ('parts = ["leg", "rail"]\nquantity = 6', 7 * 6 + 3),
        ('parts = ["leg", "rail"]\nquantity = 1', 7),  # one set
        ('part = "leg"\nquantity = 4\nkind = "glue"', 7 * 4),
        ('part = "top"\nkind = "dry-fit"', 7),
        ('part = "top"', 7),  # it has none
        ("quantity = 4", 7 * 4),  # on no part in particular
    ],
)
def test_what_takes_all_pieces_takes_the_spares(tmp_path: Path, operation: str, pieces: int) -> None:
    """Of 7 tables with 4 legs (2 spare), 2 rails (1 spare) and a top each, by hand; and the cards tell them apart."""
    size = 'length = 500\nwidth = 40\nthickness = 40\nstock = "sized"\n'
    parts = "".join(
        f'[[part]]\nid = "{id}"\nquantity = {quantity}\nspare = {spare}\n{size}'
        for id, quantity, spare in (("leg", 4, 2), ("rail", 2, 1), ("top", 1, 0))
    )
    (tmp_path / "shop.toml").write_text(SHOP.read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "job.toml"
    text = f'[[operation]]\nid = "x"\nstation = "saw"\n{operation}\n'
    path.write_text(f'[job]\nshop = "shop.toml"\nbatch = 7\n{parts}{text}', encoding="utf-8")
    job = load_job(path)
    assert job.operations[0].quantity == pieces
    found = plan(job)
    ((work,),) = (card.work for card in cards(found))
    spares = sum(piece.spare for piece in work.pieces)
    assert (work.count, spares * work.pieces[0].each) == (pieces, pieces % 7)
    assert (work.spare_ticks, "spare" in work.each_box) == (
        (spares, False) if work.per_tick == 1 else (0, spares > 0)
    )


@pytest.mark.parametrize("path", sorted(SHOP.parent.glob("*/job.toml")), ids=lambda path: path.parent.name)
def test_surfaces_that_derived_steps_make(path: Path) -> None:
    """Every surface of a part that they make, in all the examples, is one that operations by hand may name, of that
    part; and what the joints are said to make is made by them, by one way or another.
    """
    job = load_job(path)
    made: dict[str, set[str]] = {}
    for op in prepare(job).worklist.operations:
        for part, _, surface in (made.rpartition("/") for made in op.makes):
            if part:
                made.setdefault(part, set()).add(surface)
    said = by_part(each for joint in job.joints for each in made_by(joint))
    for part, surfaces in made.items():
        assert surfaces <= {*known_of([part], said)}
    for part, names in said.items():
        assert {*names} <= made[part]
