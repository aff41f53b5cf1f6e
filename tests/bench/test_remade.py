"""Pieces made again, in one going-on or several: what waits for what, how many there are, what the cards say of them.

The jobs are small enough that orders and counts are worked out by hand.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sequencer import InputError, NoOrderError, load_job, plan
from sequencer.bench.happened import Happened, told
from sequencer.bench.made_again import _said_of
from sequencer.bench.remainder import replan
from sequencer.cards.overview import overview
from sequencer.cards.planbook import Pieces, PlanBook
from sequencer.cards.setup_cards import cards
from sequencer.files import read_plan
from sequencer.model.job import Job
from sequencer.operations import Slot
from sequencer.planfile import Plan
from sequencer.report.booklet import booklet_values
from sequencer.report.drawing.history import finished
from sequencer.report.stocklist import cut_list, unspared
from sequencer.report.web import write_html
from tests.bench.begun_job import SHOP, chain, head, loaded, order, parts
from tests.random_jobs import as_toml, random_job, random_shop

ROOT = Path(__file__).parents[2]


def counts(found: Plan) -> dict[str, int]:
    """How often each operation is made."""
    return {step.operation: step.quantity for step in found.steps}


def example(name: str) -> tuple[Job, Plan]:
    """An example and its plan."""
    job = load_job(ROOT / "examples" / name / "job.toml")
    return job, plan(job, time_limit=20)


def step_of(found: Plan, kind: str) -> int:
    """The number of the first step of a kind."""
    kinds = {operation.id: operation.kind for operation in found.operations}
    return next(n for n, step in enumerate(found.steps, 1) if kinds[step.operation] == kind)


@pytest.mark.parametrize(("bottoms", "sets"), [(1, 1), (2, 2), (3, 3)])
def test_a_fit_opened_again_counts_what_one_set_takes(bottoms: int, sets: int) -> None:
    """Of four boxes each takes four sides and a bottom, however many are put together again."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    found = replan(job, first, Happened(done, spoiled={"bottom": bottoms}), 20)
    fit = first.steps[done - 1].operation
    assert PlanBook(found).pieces(fit) == (
        Pieces("side", 4 * sets, sets=sets),
        Pieces("bottom", sets, sets=sets),
    )
    ticks = {work.operation: work.ticks for card in cards(found) for work in card.work}
    assert ticks[fit] == sets


def test_each_new_piece_may_be_of_a_set_of_its_own() -> None:
    """A side and a bottom spoiled may be of two boxes, told at once or one after the other; there are four in all."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    fit = first.steps[done - 1].operation
    at_once = replan(job, first, Happened(done, spoiled={"bottom": 1, "side": 1}), 20)
    one = replan(job, first, Happened(done, spoiled={"bottom": 1}), 20)
    then = replan(job, one, Happened(0, spoiled={"side": 1}), 20)
    assert counts(at_once)[fit] == counts(then)[fit] == 2
    all_of_them = replan(job, then, Happened(0, spoiled={"side": 7}), 20)
    assert counts(all_of_them)[fit] == 4


def test_a_new_piece_that_awaits_its_fit_is_of_the_set_it_was_made_for() -> None:
    """A side spoiled over and over before its box is fitted again leaves three boxes as they are; one that was fitted
    by then opens its box as well as that of the new bottom."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    fit = first.steps[done - 1].operation
    one = replan(job, first, Happened(done, spoiled={"side": 1}), 20)
    two = replan(job, one, Happened(2, spoiled={"side (remade)": 1}), 20)
    three = replan(job, two, Happened(2, spoiled={"side (remade 2)": 1}), 20)
    assert [counts(found)[fit] for found in (one, two, three)] == [1, 1, 1]
    another = replan(job, two, Happened(2, spoiled={"side (remade 2)": 1, "side": 1}), 20)
    assert counts(another)[fit] == 2
    fitted = replan(job, one, Happened(order(one).index(fit) + 1, spoiled={"bottom": 1}), 20)
    assert counts(fitted)[fit] == 1
    assert counts(replan(job, fitted, Happened(0, spoiled={"side (remade)": 1}), 20))[fit] == 2


def test_a_fit_without_glue_grows_as_well(tmp_path: Path) -> None:
    """Two rails spoiled one after the other are fitted like two spoiled at once."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "fit", "kind": "dry-fit"}, {"id": "sand"})
    first = plan(job, time_limit=20)
    one = replan(job, first, Happened(2, spoiled={"rail": 1}), 20)
    assert PlanBook(one).pieces("fit") == (Pieces("rail", 1, of=4),)
    assert counts(replan(job, one, Happened(0, spoiled={"rail": 1}), 20))["fit"] == 2
    assert counts(replan(job, first, Happened(2, spoiled={"rail": 2}), 20))["fit"] == 2


def test_of_a_share_that_is_no_whole_number_none_is_left_out(tmp_path: Path) -> None:
    """Six holes in four rails are one and a half a rail: a new one may need two, of a minute each."""
    job = chain(tmp_path, {"id": "drill", "quantity": 6, "minutes_each": 1}, {"id": "oil"})
    found = replan(job, plan(job, time_limit=20), Happened(1, spoiled={"rail": 1}), 20)
    assert counts(found) == {"drill-remade": 2, "oil": 4}
    assert "rail: 1 made again, 1 step with 2 min of work" in found.remarks


def test_what_is_fitted_twice_is_fitted_twice_again(tmp_path: Path) -> None:
    """Four rails are tried at both ends: eight fits in all, two for a new rail."""
    job = chain(tmp_path, {"id": "fit", "kind": "dry-fit", "quantity": 8}, {"id": "wax"})
    found = replan(job, plan(job, time_limit=20), Happened(1, spoiled={"rail": 1}), 20)
    assert counts(found)["fit"] == 2


def test_no_step_is_lost_where_names_meet(tmp_path: Path) -> None:
    """`sand` of rails and stiles and `sand-rail` of rails are both made again for a new rail."""
    both = {"parts": ["rail", "stile"], "quantity": 8}
    job = chain(tmp_path, {"id": "sand", **both}, {"id": "sand-rail"}, {"id": "wax", **both})
    found = replan(job, plan(job, time_limit=20), Happened(2, spoiled={"rail": 1}), 20)
    assert sorted(op.again for op in found.operations) == ["", "sand", "sand-rail"]
    assert order(found)[-1] == "wax"


def test_the_jobs_own_names_are_left_to_it(tmp_path: Path) -> None:
    """A job that has a `cut-remade` of its own keeps it; the file of what is left is read again."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "cut-remade"}, {"id": "wax"})
    first = plan(job, time_limit=20)
    for done, left in (
        (1, ["cut-remade-2", "cut-remade", "wax"]),
        (2, ["cut-remade-2", "cut-remade-remade", "wax"]),
    ):
        found = replan(job, first, Happened(done, spoiled={"rail": 1}), 20)
        assert order(found) == left
        (tmp_path / "rest.json").write_text(found.model_dump_json(), encoding="utf-8")
        assert order(read_plan(tmp_path / "rest.json")) == left


@pytest.mark.parametrize("one_by_one", [("rail", "stile"), ("stile", "rail")])
def test_told_one_by_one_it_waits_as_told_at_once(one_by_one: tuple[str, str], tmp_path: Path) -> None:
    """A stile is drilled to match a rail: the new rail comes first, whichever was told first."""
    job = chain(
        tmp_path,
        {"id": "cut"},
        {"id": "match", "parts": ["stile"]},
        {"id": "bore", "parts": ["rail", "stile"], "quantity": 8},
    )
    found = plan(job, time_limit=20)
    for done, part in zip((2, 0), one_by_one, strict=True):
        found = replan(job, found, Happened(done, spoiled={part: 1}), 20)
    assert order(found) == ["cut-remade", "match-remade", "bore"]
    assert len({(edge.before, edge.after) for edge in found.precedence}) == len(found.precedence)


def test_a_fit_opened_again_holds_back_what_came_later(tmp_path: Path) -> None:
    """Rails are cut and fitted, stiles drilled to match, then both bored: a new rail is fitted before it is bored."""
    job = chain(
        tmp_path,
        {"id": "cut"},
        {"id": "fit", "kind": "dry-fit"},
        {"id": "match", "parts": ["stile"]},
        {"id": "bore", "parts": ["rail", "stile"], "quantity": 8},
    )
    found = replan(job, plan(job, time_limit=20), Happened(3, spoiled={"rail": 1}), 20)
    assert order(found) == ["cut-remade", "fit", "bore"]
    assert ("fit", "bore") in {(edge.before, edge.after) for edge in found.precedence}


def test_pieces_are_counted_by_what_became_of_them(tmp_path: Path) -> None:
    """Four rails. Two are spoiled, then one of the two new ones: two old ones and one new one can still be spoiled."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "plane"}, {"id": "bore"})
    first = replan(job, plan(job, time_limit=20), Happened(2, spoiled={"rail": 2}), 20)
    second = replan(job, first, Happened(1, spoiled={"rail (remade)": 1}), 20)
    found = replan(job, second, Happened(0, spoiled={"rail": 2, "rail (remade)": 1}), 20)
    assert counts(found)["plane-remade"] == 2  # each new piece goes on with those it replaces
    for part, accepted in (("rail", "1 to 2"), ("rail (remade)", "1")):
        with pytest.raises(InputError, match="cannot be spoiled") as refused:
            replan(job, second, Happened(0, spoiled={part: 3}), 20)
        assert refused.value.faults[0].accepted == accepted
    third = replan(job, found, Happened(0), 20)
    with pytest.raises(InputError) as refused:
        replan(job, third, Happened(0, spoiled={"rail": 1}), 20)
    assert refused.value.faults[0].accepted == "none: all are being made again"
    caught_up = Happened(order(first).index("plane-remade") + 1, spoiled={"rail": 3, "rail (remade)": 2})
    with pytest.raises(InputError, match="3 of rail cannot be spoiled"):
        replan(job, first, caught_up, 20)


def test_pieces_that_were_thrown_away(tmp_path: Path) -> None:
    """Of four rails one is made again, and then of all four some: with all of them the first new one is gone, with
    three it may be the one that is left."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "plane"}, {"id": "bore"})
    first = replan(job, plan(job, time_limit=20), Happened(1, spoiled={"rail": 1}), 20)
    assert order(first) == ["cut-remade", "plane", "bore"]
    for spoiled in (3, 4):
        second = replan(job, first, Happened(2, spoiled={"rail": spoiled}), 20)
        caught_up = order(second).index("bore")
        again = Happened(caught_up, spoiled={"rail (remade)": 1})
        if spoiled == 3:
            third = replan(job, second, again, 20)
            assert {part.id: part.quantity for part in third.parts}["rail (remade 3)"] == 1
            continue
        with pytest.raises(InputError) as refused:
            replan(job, second, again, 20)
        (fault,) = refused.value.faults
        assert fault.message == "no piece of rail (remade) is left: others were made for them since"
        assert fault.accepted == "rail, rail (remade 2)"
        replan(job, second, Happened(caught_up, spoiled={"rail (remade 2)": 4}), 20)


def test_where_all_pieces_are_being_made_again_none_of_a_new_one_is_left(tmp_path: Path) -> None:
    """Of four rails three are made again, then the fourth, whose new piece is ready first and is spoiled once more: by
    whatever name, there is none to spoil but those that are being made.
    """
    job = chain(tmp_path, {"id": "cut"}, {"id": "plane"}, {"id": "bore"})
    first = replan(job, plan(job, time_limit=20), Happened(2, spoiled={"rail": 3}), 20)
    second = replan(job, first, Happened(0, spoiled={"rail": 1}), 20)
    of_two = [n for n, each in enumerate(second.operations, 1) if each.parts == ("rail (remade 2)",)]
    assert len(of_two) == 2
    skipped = frozenset(range(1, max(of_two))) - {*of_two}
    third = replan(job, second, Happened(max(of_two), skipped, spoiled={"rail": 1}), 20)
    for part in ("rail", "rail (remade 2)"):
        with pytest.raises(InputError) as refused:
            replan(job, third, Happened(0, spoiled={part: 1}), 20)
        (fault,) = refused.value.faults
        assert fault.message == f"1 of {part} cannot be spoiled"
        assert fault.accepted == "none: all are being made again"


def test_new_pieces_can_be_spoiled_though_all_of_the_part_are_being_made_again(tmp_path: Path) -> None:
    """All four rails are made again; when these are cut, all four new ones are spoiled: they are cut once more."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "plane"}, {"id": "bore"})
    first = replan(job, plan(job, time_limit=20), Happened(2, spoiled={"rail": 4}), 20)
    assert order(first) == ["cut-remade", "plane-remade", "bore"]
    second = replan(job, first, Happened(1, spoiled={"rail (remade)": 4}), 20)
    assert [step.quantity for step in second.steps if step.operation.startswith("cut")] == [4]


def test_a_piece_of_a_new_piece_is_worked_as_that_was() -> None:
    """A new board spoiled halfway, and its next piece spoiled, too, once it has joined the first: its cuts are those of
    the board, made and drawn."""
    job, first = example("tea-boxes")
    done = step_of(first, "plunge")
    plunge = next(op for op in first.operations if op.id == first.steps[done - 1].operation)
    part = plunge.parts[0]
    one = replan(job, first, Happened(done, spoiled={part: 2}), 20)
    copy = next(op for op in one.operations if op.again == plunge.id)
    before = order(one).index(copy.id)
    two = replan(job, one, Happened(before, spoiled={f"{part} (remade)": 1}), 20)
    after = order(two).index(copy.id) + 1
    assert f"{part} (remade 2)" in {record.id for record in two.parts}
    third = replan(job, two, Happened(after, spoiled={f"{part} (remade 2)": 1}), 20)
    again = [op for op in third.operations if op.again == plunge.id]
    assert [len(op.cuts) for op in again] == [len(copy.cuts)]
    record = next(record for record in two.parts if record.id == f"{part} (remade 2)")
    drawn, planned = (
        [cut.mouth for cut in finished(whole, each).old if isinstance(cut, Slot)]
        for whole, each in ((third, record), (first, next(each for each in first.parts if each.id == part)))
    )
    assert sorted(drawn) == sorted(planned) != []


@pytest.mark.parametrize(("spoiled", "waits"), [(1, False), (12, False), (13, True)])
def test_a_setting_block_waits_for_new_pieces_only_where_no_good_one_is_left(
    spoiled: int, waits: bool
) -> None:
    """It is held against the bevel of any piece: of thirteen sides, one of them spare, with their bevels sawn twelve,
    one or none are good. The slots of the sides wait for the new bevels all the same."""
    job, first = example("planter")
    bevel = next(each for each in first.operations if each.kind == "bevel" and "level" not in each.id)
    block = next(each for each in first.operations if each.kind == "block")
    done = next(n for n, step in enumerate(first.steps, 1) if step.operation == bevel.id)
    assert all(step.operation != block.id for step in first.steps[:done])
    found = replan(job, first, Happened(done, spoiled={"side": spoiled}), 20)
    (again,) = (each.id for each in found.operations if each.again == bevel.id)
    waiting = {edge.after for edge in found.precedence if edge.before == again and edge.strength == "must"}
    assert (block.id in waiting) is waits
    assert {each.id for each in found.operations if each.kind == "plunge"} <= waiting


@pytest.mark.parametrize(("spoiled", "waiting"), [(1, {"bore"}), (4, {"jig"})])
def test_by_way_of_a_jig_only_the_new_pieces_own_work_waits(
    spoiled: int, waiting: set[str], tmp_path: Path
) -> None:
    """A jig is made to an end of the rails, by which rails are bored and stiles notched: good rails serve for it, but
    no rail is bored before it is cut."""
    at = {"station": "bench", "minutes_each": 1}
    tables = [
        {"id": "cut", "part": "rail", "quantity": 4, "makes": ["left end"], **at},
        {"id": "jig", "quantity": 1, "registers_on": ["rail/left end"], **at},
        {"id": "bore", "part": "rail", "quantity": 4, "after": ["jig"], **at},
        {"id": "notch", "part": "stile", "quantity": 4, "after": ["jig"], **at},
    ]
    job = loaded(tmp_path, head(rail=4, stile=4) + as_toml({"operation": tables}))
    found = replan(job, plan(job, time_limit=20), Happened(1, spoiled={"rail": spoiled}), 20)
    assert {edge.after for edge in found.precedence if edge.before == "cut-remade"} == waiting


def test_new_boards_of_a_panel_say_that_outer_edges_stay_whole() -> None:
    """The hint of the first plan stands on the cards of the boards made again."""
    job, first = example("board-panel")
    kinds = {operation.id: operation.kind for operation in first.operations}
    done = max(n for n, step in enumerate(first.steps, 1) if kinds[step.operation] == "plunge")
    found = replan(job, first, Happened(done, spoiled={"board": 2}), 20)
    again = {op.id for op in found.operations if op.kind == "plunge" and op.again}
    work = [work for card in cards(found) for work in card.work if work.operation in again]
    assert len(work) == len(again) == 2
    assert all("only what meets a mate is cut" in each.way_round for each in work)


def test_settings_stand_where_they_stood_two_plans_ago(tmp_path: Path) -> None:
    """The tilt stands at 30 after the bevel; the plan in between has no use for it, and the next need not set it."""
    at = {"station": "saw", "settings": {"tilt": 30}}
    job = chain(tmp_path, {"id": "bevel", **at}, {"id": "sand"}, {"id": "wax"})
    first = plan(job, time_limit=20)
    at_once = replan(job, first, Happened(2, spoiled={"rail": 1}), 20)
    assert at_once.reset_minutes == 0
    between = replan(job, first, Happened(2), 20)
    (tmp_path / "rest.json").write_text(between.model_dump_json(), encoding="utf-8")
    for stands, minutes in ((between, 0), (read_plan(tmp_path / "rest.json"), 0)):
        assert replan(job, stands, Happened(0, spoiled={"rail": 1}), 20).reset_minutes == minutes
    moved = replan(job, first, Happened(2, moved={("saw", "tilt"): 15.0}), 20)
    assert replan(job, moved, Happened(0, spoiled={"rail": 1}), 20).reset_minutes == 4
    back = replan(job, moved, Happened(0, moved={("saw", "tilt"): 30.0}), 20)
    assert replan(job, back, Happened(1, spoiled={"rail": 1}), 20).reset_minutes == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('id = "saw"', 'id = "sawbench"'), '"bevel-remade" is to be made at station "saw", which the shop'),
        (('id = "tilt"', 'id = "lean"'), '"bevel-remade" asks for what can no longer be set here'),
    ],
)
def test_what_the_shop_no_longer_has(change: tuple[str, str], says: str, tmp_path: Path) -> None:
    """A station or setting that is gone is refused by the name of what needs it, and only then."""
    operations = ({"id": "bevel", "station": "saw", "settings": {"tilt": 30}}, {"id": "sand"}, {"id": "wax"})
    job = chain(tmp_path, *operations)
    first = plan(job, time_limit=20)
    between = replan(job, first, Happened(1), 20)
    (tmp_path / "shop.toml").write_text(SHOP.replace(*change), encoding="utf-8")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    bevel = text.index("[[operation]]")
    rest = text[:bevel] + text[text.index("[[operation]]", bevel + 1) :].replace('"bevel"', "")
    (tmp_path / "job.toml").write_text(rest, encoding="utf-8")
    job = load_job(tmp_path / "job.toml")
    assert order(replan(job, between, Happened(0), 20)) == ["sand", "wax"]
    for begun, done in ((first, 1), (between, 0)):
        with pytest.raises(InputError) as refused:
            replan(job, begun, Happened(done, spoiled={"rail": 1}), 20)
        assert says in str(refused.value)
        assert refused.value.faults[0].accepted


@pytest.mark.parametrize(
    "change",
    [
        lambda found: found["steps"][0].update(station="forge"),
        lambda found: found["steps"][0]["settings"].update(heat=3),
        lambda found: found["steps"][0]["settings"].update(tilt="steep"),
        lambda found: found["steps"][0]["resets"].append(
            {"setting": "heat", "from": 1, "to": 2, "minutes": 1}
        ),
        lambda found: found["begins"].update({"saw.heat": 3, "saw.tilt": "steep", "forge": 1}),
        lambda found: found.update(begins=None),
        lambda found: found["done"].append({**found["operations"][1], "id": "x", "station": "forge"}),
    ],
)
def test_a_file_that_tells_of_a_strange_shop(change: Any, tmp_path: Path) -> None:
    """What a plan says of stations, settings and values that the shop does not have is no reason to stumble, though a
    file in which it stands nowhere else is not read."""
    job = chain(tmp_path, {"id": "bevel", "station": "saw", "settings": {"tilt": 30}}, {"id": "sand"})
    raw = json.loads(plan(job, time_limit=20).model_dump_json())
    change(raw)
    assert order(replan(job, Plan.model_validate(raw), Happened(1), 20)) == ["sand"]
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    if raw["begins"] is None or raw["done"]:
        read_plan(tmp_path / "plan.json")
        return
    with pytest.raises(InputError):
        read_plan(tmp_path / "plan.json")


def test_a_file_in_which_pieces_pass_what_names_no_part_of_theirs(tmp_path: Path) -> None:
    """A hand may have written so; what they pass is made again for them all the same."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "sand", "parts": ["stile"]}, {"id": "wax"})
    raw = json.loads(plan(job, time_limit=20).model_dump_json())
    raw["parts"][0]["passes"] = ["sand"]
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    found = replan(job, read_plan(tmp_path / "plan.json"), Happened(2, spoiled={"rail": 1}), 20)
    assert sorted(order(found)) == ["cut-remade", "sand-remade", "wax"]


@pytest.mark.parametrize("change", [{"again": "stile"}, {"descent": ["stile"]}, {"again": "rail"}])
def test_a_file_in_which_a_part_descends_from_itself(change: dict[str, Any], tmp_path: Path) -> None:
    """Parts made again come after those they are made again of."""
    raw = json.loads(plan(chain(tmp_path, {"id": "cut"}), time_limit=20).model_dump_json())
    raw["parts"][0].update(change)
    raw["parts"][1]["again"] = "rail"
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError, match=r"parts\.0: the parts that it is made again of must come before it"):
        read_plan(tmp_path / "plan.json")


@pytest.mark.parametrize(("key", "value"), [("quantity", 0), ("minutes_each", -1)])
def test_a_file_with_work_that_cannot_be(key: str, value: float, tmp_path: Path) -> None:
    """No work is made of no pieces, nor in less than no time."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "sand"})
    raw = json.loads(plan(job, time_limit=20).model_dump_json())
    raw["operations"][1][key] = value
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError, match=f"operations.1.{key}: must be at least"):
        read_plan(tmp_path / "plan.json")


def test_the_cut_list_names_what_is_not_there_yet() -> None:
    """Bottoms that wait for the dry fit only are there; the new ones are not, until the fit is made."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    found = replan(job, first, Happened(done, spoiled={"bottom": 2}), 20)
    assert [(row.part.id, row.pieces) for row in cut_list(found)] == [("bottom (remade)", 2)]
    assert [row.part.id for row in cut_list(replan(job, found, Happened(0), 20))] == ["bottom (remade)"]
    fitted = order(found).index(first.steps[done - 1].operation) + 1
    later = replan(job, found, Happened(fitted, spoiled={"bottom": 1}), 20)
    assert [row.part.id for row in cut_list(later)] == ["bottom (remade 2)"]


@pytest.mark.parametrize(
    ("words", "part", "found"),
    [
        ("groove in the back of back, 6 mm wide", "back", "groove in the back of back (remade), 6 mm wide"),
        (
            "crosscut end: one end square, then to length at the stop",
            "end",
            "crosscut end (remade): one end square, then to length at the stop",
        ),
        (
            "mill back from 300 mm: face flat, edge square to it, back to thickness",
            "back",
            "mill back (remade) from 300 mm: face flat, edge square to it, back to thickness",
        ),
        ("bore rail and stile", "stile", "bore rail and stile (remade)"),
        ("rip long rail to width", "rail", "rip long rail to width"),
    ],
)
def test_words_of_a_part_named_like_a_surface(words: str, part: str, found: str) -> None:
    """Where the part is meant, and there only."""
    parts = ("back", "end", "rail", "long rail", "stile")
    assert _said_of(words, part, f"{part} (remade)", parts) == found


def told_again(found: Plan) -> dict[str, str]:
    """What cards say of each step made again of the one that is asked for, by its piece; where the card before leads to
    it, too."""
    again = {operation.id for operation in found.operations if operation.again}
    works = [work for card in cards(found) for work in card.work if work.operation in again]
    for one, other in pairwise(cards(found)):
        assert one.next is not None
        assert one.next.what == other.work[0].what
    return {work.pieces[0].part: work.what for work in works if work.what.startswith(("sand", "bore"))}


def test_a_step_made_again_speaks_of_its_own_part_alone() -> None:
    """The sides of boxes are sanded together, those of shelves with the boards between them, which show on both faces:
    a helper who reads "sand front and side" sands a board that is done already."""
    job, first = example("tea-boxes")
    (sanding,) = (op for op in first.operations if op.kind == "sand" and "large side" in op.parts)
    assert set(sanding.parts) == {"large front", "large side"}
    done = order(first).index(sanding.id) + 1
    one = replan(job, first, Happened(done, spoiled={"large side": 1}), 20)
    says = "sand the inside faces of {}, clear of the joints"
    assert told_again(one) == {"large side (remade)": says.format("large side (remade)")}
    both = replan(job, first, Happened(done, spoiled={"large side": 1, "large front": 2}), 20)
    names = ("large side (remade)", "large front (remade)")
    assert told_again(both) == {name: says.format(name) for name in names}
    again = order(one).index(next(op.id for op in one.operations if op.again == sanding.id)) + 1
    two = replan(job, one, Happened(again, spoiled={"large side (remade)": 1}), 20)
    assert told_again(two) == {"large side (remade 2)": says.format("large side (remade 2)")}

    job, first = example("shelf-unit")
    done = order(first).index(next(op.id for op in first.operations if op.kind == "sand")) + 1
    found = replan(job, first, Happened(done, spoiled={"side": 1, "divider": 1}), 20)
    assert told_again(found) == {
        "side (remade)": "sand the inside faces of side (remade), clear of the joints",
        "divider (remade)": "sand both faces of divider (remade), clear of the joints",
    }


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("bore rail and stile", "bore rail and stile: {} only"),
        ("sand all the boards.", "sand all the boards: {} only"),
    ],
)
def test_words_by_hand_for_several_parts_end_with_the_one_that_is_meant(
    words: str, found: str, tmp_path: Path
) -> None:
    """What a hand wrote of two parts is left as it is, once and again."""
    both = {"parts": ["rail", "stile"], "quantity": 8, "notes": words}
    job = chain(tmp_path, {"id": "work", **both}, {"id": "wax"})
    one = replan(job, plan(job, time_limit=20), Happened(1, spoiled={"rail": 1}), 20)
    assert told_again(one) == {"rail (remade)": found.format("rail (remade)")}
    two = replan(job, one, Happened(1, spoiled={"rail (remade)": 1}), 20)
    assert told_again(two) == {"rail (remade 2)": found.format("rail (remade 2)")}


def test_a_file_that_does_not_say_what_is_done_to_each_part_alone(tmp_path: Path) -> None:
    """Its words are left as they are, like those that a hand wrote."""
    job, first = example("tea-boxes")
    (sanding,) = (op for op in first.operations if op.kind == "sand" and "large side" in op.parts)
    raw = json.loads(first.model_dump_json())
    for operation in raw["operations"]:
        del operation["what_alone"]
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    older = read_plan(tmp_path / "plan.json")
    rest = replan(job, older, Happened(order(older).index(sanding.id) + 1, spoiled={"large side": 1}), 20)
    says = f"{sanding.notes.what}: large side (remade) only"
    assert told_again(rest) == {"large side (remade)": says}


def test_the_rest_is_told_from_the_plan_before(tmp_path: Path) -> None:
    """Cards, sheets and files say after how many steps they go on; those of a first plan say nothing of it."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "sand"}, {"id": "wax"})
    first = plan(job, time_limit=20)
    for found, says in (
        (first, "j"),
        (rest := replan(job, first, Happened(2), 20), "j, plan 2, goes on after 2 steps"),
        (replan(job, first, Happened(1), 20), "j, plan 2, goes on after 1 step"),
        (replan(job, first, Happened(0), 20), "j, plan 2, goes on after 0 steps"),
        (replan(job, rest, Happened(0, spoiled={"rail": 1}), 20), "j, plan 3, goes on after 2 steps"),
    ):
        assert {card.job for card in cards(found)} == {says}
        assert booklet_values(found)["title"] == says
        assert f"<h1>{says}</h1>" in write_html(found)
        assert overview(found).goes_on == says.removeprefix("j").removeprefix(", ")


def test_remarks_of_the_first_plan_are_carried_on() -> None:
    """The slips of the tea boxes are told in each plan; how one goes on from another, in that one only."""
    job, first = example("tea-boxes")
    assert any("64 slips" in says for says in first.remarks)
    second = replan(job, first, Happened(3), 20)
    third = replan(job, second, Happened(2), 20)
    for found, steps in ((second, f"3 of {len(first.steps)}"), (third, f"2 of {len(second.steps)}")):
        assert found.remarks[found.going_on :] == first.remarks
        (told_of,) = [says for says in found.remarks if says.startswith("goes on from")]
        assert told_of.startswith(f"goes on from {steps} steps")


def test_cutters_are_listed_as_they_are_marked() -> None:
    """A job in inches in a shop whose cutters are marked in mm: what is listed as accepted is accepted."""
    job, first = example("picture-frames")
    with pytest.raises(InputError) as refused:
        told(job, first, 1, moved=["mortiser.cutter=7 mm"])
    accepted = refused.value.faults[0].accepted.split(", ")
    assert "6 mm" in accepted
    for words in accepted:
        told(job, first, 1, moved=[f"mortiser.cutter={words}"])


@pytest.mark.parametrize(
    ("moved", "says"),
    [
        ({("saw", "titl"): 1.0}, 'no setting "saw.titl" (did you mean "saw.tilt"?)'),
        ({("saw", "tilt"): float("nan")}, "saw.tilt cannot stand at nan"),
        ({("saw", "tilt"): 90.0}, "saw.tilt cannot stand at 90"),
        ({("saw", "tilt"): "steep"}, 'saw.tilt cannot stand at "steep"'),
    ],
)
def test_where_nothing_can_stand(moved: Any, says: str, tmp_path: Path) -> None:
    """Settings and values that the shop does not have are refused from Python as on the command line."""
    limited = SHOP.replace("start = 0", "start = 0\nlimits = { min = 0, max = 45 }")
    job = chain(tmp_path, {"id": "cut"}, {"id": "sand"}, shop=limited)
    with pytest.raises(InputError) as refused:
        replan(job, plan(job, time_limit=20), Happened(1, moved=moved), 20)
    assert says in str(refused.value)
    assert refused.value.faults[0].accepted


def test_a_setting_told_twice(tmp_path: Path) -> None:
    """Which of the two holds cannot be told."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "sand"})
    with pytest.raises(InputError, match=r"saw\.tilt is told twice"):
        told(job, plan(job, time_limit=20), 1, moved=["saw.tilt=1", "saw.tilt=2"])


def test_a_new_piece_that_only_the_fit_waits_for() -> None:
    """A bottom that no step before the fit works on needs none of its own, and the remark does not count to 0."""
    job, first = example("mitred-box")
    found = replan(job, first, Happened(step_of(first, "dry-fit"), spoiled={"bottom": 1}), 20)
    assert "bottom: 1 made again, with no step before those that are left" in found.remarks


@pytest.mark.parametrize("seed", range(30))
def test_told_later_it_costs_what_it_costs_told_at_once(seed: int, tmp_path: Path) -> None:
    """Random jobs: gone on with first and a piece told as spoiled then, or both at once; either is proven."""
    random = Random(seed)
    shop, tables = random_shop(random), random_job(random, most=6)
    for op in tables["operation"]:
        if random.random() < 0.7:
            op |= {"part": random.choice(["rail", "stile"]), "quantity": 4}
    tables["part"] = parts(rail=4, stile=4)
    tables["job"].pop("batch", None)
    job = loaded(tmp_path, as_toml(tables), as_toml(shop))
    try:
        first = plan(job, time_limit=20)
        done = random.randint(1, max(1, len(first.steps) - 1))
        works_on = {op.id: op.parts for op in first.operations}
        begun = sorted({part for step in first.steps[:done] for part in works_on[step.operation]})
        moved: dict[tuple[str, str], Any] = {
            (station["id"], setting["id"]): None
            for station in shop["station"]
            for setting in station.get("setting", [])
            if random.random() < 0.2
        }
        if not begun or done == len(first.steps):
            return
        at_once = replan(job, first, Happened(done, spoiled=dict.fromkeys(begun, 1), moved=moved), 20)
    except NoOrderError:
        return
    found = replan(job, first, Happened(done, moved=moved), 20)
    for part in random.sample(begun, len(begun)):
        found = replan(job, found, Happened(0, spoiled={part: 1}), 20)
    assert at_once.status == found.status == "optimal"
    assert found.cost_minutes == pytest.approx(at_once.cost_minutes, abs=1e-6)
    assert sorted(op.again or op.id for op in found.operations) == sorted(
        op.again or op.id for op in at_once.operations
    )


def test_a_fit_opened_again_takes_nothing_from_the_steps_made() -> None:
    """Nine steps are made, the ninth a dry fit: opened again for a new bottom, the rest still goes on after nine."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    rest = replan(job, first, Happened(done, spoiled={"bottom": 1}), 20)
    assert {card.job for card in cards(rest)} == {f"{first.job}, plan 2, goes on after {done} steps"}
    ahead = first.steps[done:]
    minutes = sum(
        step.walk_minutes + step.work_minutes + sum(reset.minutes for reset in step.resets) for step in ahead
    )
    assert f"goes on from {done} of {len(first.steps)} steps; {minutes:g} min were left" in rest.remarks[0]
    again = replan(job, rest, Happened(1, spoiled={"bottom": 1}), 20)
    assert {card.job for card in cards(again)} == {f"{first.job}, plan 3, goes on after {done + 1} steps"}
    assert not {"bottom (remade)", "bottom"} & set(unspared(rest)) - set(unspared(first))


def test_a_rest_that_says_less_is_told_rightly() -> None:
    """A file written before sets were kept has its glue-ups: of four boxes each takes four sides and a bottom."""
    job, first = example("mitred-box")
    done = step_of(first, "dry-fit")
    rest = replan(job, first, Happened(done, spoiled={"side": 2}), 20)
    bare = [op.model_copy(update={"of_sets": 0}) for op in rest.operations]
    older = rest.model_copy(update={"operations": tuple(bare), "steps_before": (), "going_on": 0})
    fit = next(op.id for op in bare if op.kind == "dry-fit")
    again = replan(job, older, Happened(len(older.steps) - 2, spoiled={"side": 1}), 20)
    for found, sets in ((older, 2), (again, 3)):
        pieces = {each.part: (each.count, each.sets) for each in PlanBook(found).pieces(fit)}
        assert pieces == {"side": (4 * sets, sets), "bottom": (sets, sets)}
    assert sum(remark.startswith("goes on from") for remark in again.remarks) == 1


def test_a_step_on_some_pieces_says_which_new_ones_it_is_on(tmp_path: Path) -> None:
    """One of four rails has a hole, and two are spoiled: whether the one with the hole is among them, only the maker
    knows. Each time round the card calls the step what the job calls it, and says so."""
    job = chain(tmp_path, {"id": "cut"}, {"id": "knob hole", "quantity": 1}, {"id": "wax"})
    first = plan(job, time_limit=20)
    one = replan(job, first, Happened(2, spoiled={"rail": 2}), 20)
    two = replan(job, one, Happened(2, spoiled={"rail (remade)": 1}), 20)
    for found, part in ((one, "rail (remade)"), (two, "rail (remade 2)")):
        works = {work.operation: work for card in cards(found) for work in card.work}
        (bored,) = [op.id for op in found.operations if op.again == "knob hole"]
        assert works[bored].what == "knob hole"
        assert [piece.part for piece in works[bored].pieces] == [part]
        assert works[bored].count == 1
        assert works[bored].way_round == "only on those that replace pieces that had it"
        (cut,) = [op.id for op in found.operations if op.again == "cut"]
        assert works[cut].what == "cut"
        assert not works[cut].way_round
    assert not any(work.way_round for card in cards(first) for work in card.work)


def test_mates_without_words_are_told_by_their_names(tmp_path: Path) -> None:
    """A rail bored again as it was bored is told by the name in the job, with the piece it is."""
    at = {"station": "saw", "settings": {"tilt": 30}}
    text = head(rail=4) + as_toml(
        {
            "operation": [{"id": name, "parts": ["rail"], "quantity": 4, **at} for name in ("cut", "mate")],
            "mates": [{"operations": ["cut", "mate"], "hold": ["saw.tilt"]}],
        }
    )
    job = loaded(tmp_path, text)
    first = plan(job, time_limit=20)
    made, left = order(first)
    found = replan(job, first, Happened(1, spoiled={"rail": 1}), 20)
    (said,) = [remark for remark in found.remarks if "prove it" in remark]
    assert f'"{made}" (rail (remade))' in said
    assert f'"{left}"' in said
    assert f'like "{made}"; ' in said


def test_a_reading_is_proved_on_pieces_only_while_there_are_some(tmp_path: Path) -> None:
    """Four rails are cut at a tilt that their mates want. With one of them spoiled, or three, it is proved on another;
    with all four on none, until the new ones are cut; with these spoiled, too, on none again."""
    at = {"station": "saw", "settings": {"tilt": 30}}
    text = head(rail=4) + as_toml(
        {
            "operation": [
                {"id": "cut", "parts": ["rail"], "quantity": 4, **at},
                {"id": "mate", "parts": ["rail"], "quantity": 4, "after": ["cut"], **at},
            ],
            "mates": [{"operations": ["cut", "mate"], "hold": ["saw.tilt"]}],
        }
    )
    job = loaded(tmp_path, text)
    first = plan(job, time_limit=20)
    lost: dict[tuple[str, str], float | str | None] = {("saw", "tilt"): None}
    prove, none = "prove it on a piece made there", "none is left to prove it on"

    def says(found: Plan) -> set[str]:
        """What is said of it, in the remark and on the card that sets it."""
        texts = [remark for remark in found.remarks[: found.going_on] if "made with" in remark]
        texts += ["; ".join(line.how) for card in cards(found) for line in card.settings if line.how]
        assert len(texts) == 2
        assert all(text.count(prove) + text.count(none) == 1 for text in texts)
        return {prove if prove in text else none for text in texts}

    for spoiled, expected in ((1, prove), (3, prove), (4, none)):
        found = replan(job, first, Happened(1, spoiled={"rail": spoiled}, moved=lost), 20)
        assert says(found) == {expected}
    assert order(found)[0] == "cut-remade"
    assert says(replan(job, found, Happened(0, moved=lost), 20)) == {none}
    assert says(replan(job, found, Happened(1, moved=lost), 20)) == {prove}
    for again, expected in ((3, prove), (4, none)):
        spoiled_too = Happened(1, spoiled={"rail (remade)": again}, moved=lost)
        assert says(replan(job, found, spoiled_too, 20)) == {expected}
    one = replan(job, first, Happened(1, spoiled={"rail": 1}, moved=lost), 20)
    others = Happened(1, spoiled={"rail": 3}, moved=lost)  # those cut first; the new one is there
    assert says(replan(job, one, others, 20)) == {prove}


@pytest.mark.parametrize("order_of_groups", [1, -1])
def test_any_piece_that_is_left_proves_a_reading(order_of_groups: int, tmp_path: Path) -> None:
    """Rails and stiles are cut at one tilt, each with a mate. All stiles are spoiled: rails prove it, whichever mates
    the job names first."""
    at = {"station": "saw", "settings": {"tilt": 30}, "quantity": 4}
    work = [
        {"id": f"{does} {part}", "parts": [part], **at}
        for does in ("cut", "mate")
        for part in ("rail", "stile")
    ]
    mates = [
        {"operations": [f"cut {part}", f"mate {part}"], "hold": ["saw.tilt"]} for part in ("rail", "stile")
    ]
    for mate in work[2:]:
        mate["after"] = [cut["id"] for cut in work[:2]]
    job = loaded(
        tmp_path, head(rail=4, stile=4) + as_toml({"operation": work, "mates": mates[::order_of_groups]})
    )
    first = plan(job, time_limit=20)
    assert {name.split()[0] for name in order(first)[:2]} == {"cut"}
    found = replan(job, first, Happened(2, spoiled={"stile": 4}, moved={("saw", "tilt"): None}), 20)
    (how,) = {"; ".join(line.how) for card in cards(found) for line in card.settings if line.how}
    assert how.endswith("prove it on a piece made there")
    assert "none is left" not in how
    assert sum("none is left to prove it on" in remark for remark in found.remarks) == 1
