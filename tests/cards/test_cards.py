"""What cards, step list and overview say, against the plan they are computed from."""

from __future__ import annotations

import re
from io import BytesIO, StringIO
from itertools import pairwise
from math import isclose
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from rich.console import Console

from sequencer import load_job, plan
from sequencer.cards.overview import overview
from sequencer.cards.planbook import Pieces, PlanBook, reading
from sequencer.cards.setup_cards import MOST_TICKS, Card, SettingLine, cards
from sequencer.cards.steplist import step_list
from sequencer.operations import Between, Caution, Check, Notes, OneOf, Operation, PencilLine
from sequencer.planfile import PartRecord, Plan
from sequencer.report.booklet import booklet_values, set_booklet
from sequencer.report.terminal import print_cards
from sequencer.report.web import write_html
from tests.sample_plans import AWKWARD, LONG, many, tea_boxes, two_shelves


def setting(card: Card, name: str) -> SettingLine:
    return next(line for line in card.settings if line.setting == name)


EXAMPLES = Path(__file__).parents[2] / "examples"
SHOP = """
[shop]
name = "Invented bench"

[[station]]
id = "saw"
[[station.setting]]
id = "fence"
reset = 1
[[station.setting]]
id = "tilt"
reset = 2
[[station.setting]]
id = "speed"
measures = "number"
reset = 1
"""


def planned(folder: Path, job: str, shop: str = SHOP) -> Plan:
    """The plan of a job of these tables, in mm, in a shop with a saw alone."""
    (folder / "shop.toml").write_text(shop)
    (folder / "job.toml").write_text(f'{job}\n[job]\nname = "j"\nshop = "shop.toml"\n')
    return plan(load_job(folder / "job.toml"), time_limit=10)


def in_a_row(*settings: str) -> str:
    """Operations at the saw with these settings, one after the other."""
    return "".join(
        f'[[operation]]\nid = "{n}"\nstation = "saw"\nsettings = {{ {text} }}\n'
        + (f'after = ["{n - 1}"]\n' if n else "")
        for n, text in enumerate(settings)
    )


def at(plan: Plan, operation: str) -> Card:
    """The card that holds an operation."""
    return next(card for card in cards(plan) if any(work.operation == operation for work in card.work))


@pytest.mark.parametrize(
    "plan", [tea_boxes("mm"), tea_boxes("in"), two_shelves(), many(7)], ids=lambda p: p.job
)
def test_cards_hold_every_step_once_in_order(plan: Plan) -> None:
    """One card a setup, numbered from 1; their steps are the plan's, in order."""
    made = cards(plan)
    assert [(card.number, card.of) for card in made] == [
        (n, len(plan.setups)) for n in range(1, len(made) + 1)
    ]
    assert [work.operation for card in made for work in card.work] == [step.operation for step in plan.steps]
    assert [work.step for card in made for work in card.work] == list(range(1, len(plan.steps) + 1))


@pytest.mark.parametrize(
    "plan", [tea_boxes("mm"), tea_boxes("in"), two_shelves(), many(7)], ids=lambda p: p.job
)
def test_cards_add_up_to_the_plan(plan: Plan) -> None:
    """Minutes and moved settings of all cards come to the plan's cost and count of resets."""
    made = cards(plan)
    minutes = sum(card.reset_minutes + card.work_minutes + card.walk_minutes for card in made)
    assert isclose(minutes, plan.cost_minutes)
    assert sum(line.moves for card in made for line in card.settings) == plan.reset_count
    assert isclose(sum(line.minutes for card in made for line in card.settings), plan.reset_minutes)


def test_values_carry_on_from_card_to_card() -> None:
    """What stays has the value of the station's last card; what changes tells that value and has another."""
    standing: dict[tuple[str, str], str] = {("saw", "tilt"): "0°"}
    plan = tea_boxes("mm")
    for card, setup in zip(cards(plan), plan.setups, strict=True):
        for line in card.settings:
            key = (setup.station, line.setting)
            if line.change == "changed":
                assert line.was == standing[key] != line.value
            elif line.change in ("stays", "idle"):
                assert line.value == standing[key]
            elif line.change == "set":
                assert key not in standing
            standing[key] = line.value


def test_each_kind_of_change() -> None:
    """First set, changed, lost and set again, staying, staying without being needed: each told apart."""
    plan = tea_boxes("mm")
    cross, bevel, glue = at(plan, "crosscut-side"), at(plan, "bevel-front"), at(plan, "glue-up")
    assert setting(at(plan, "rip-front"), "fence").change == "set"
    assert (setting(bevel, "tilt").change, setting(bevel, "tilt").was) == ("changed", "22.5°")
    assert (setting(cross, "gauge").change, setting(cross, "gauge").since) == ("stays", 3)
    assert (setting(cross, "tilt").change, setting(cross, "tilt").since) == ("stays", 0)
    assert setting(cross, "fence").change == "idle"
    assert setting(glue, "clamping").change == "again"


def test_settings_stand_in_the_order_of_the_shop() -> None:
    """A card lists its settings as the station does, not as the operations happen to."""
    names = [line.setting for line in at(tea_boxes("mm"), "bevel-front").settings]
    assert names == ["blade", "tilt", "gauge", "fence", "stop", "height"]


def test_values_are_in_the_unit_of_the_job() -> None:
    """18 mm stock and 3/4 in stock: the mortiser's fence stands at 9 mm, and at 3/8 in."""
    assert setting(at(tea_boxes("mm"), "plunge-face-front"), "fence_height").value == "9 mm"
    assert setting(at(tea_boxes("in"), "plunge-face-front"), "fence_height").value == "3/8 in"
    lines = at(tea_boxes("in"), "plunge-end-side").work[0].lines[0]
    assert lines.distances == ("1 13/64 in (1.200)", "2 51/64 in (2.800)")  # 0.3 and 0.7 of 4 in


def test_room_left_is_what_all_steps_accept() -> None:
    """A range on the card lies in the range of every step: block 30 to 45, bevel 25 to 35."""
    plan = tea_boxes("mm")
    assert setting(at(plan, "cut-block-1"), "height").accepts == "30 mm to 35 mm"
    assert (
        setting(at(plan, "rip-front"), "blade").accepts == ""
    )  # a rip blade would do, but not for the crosscuts after it
    assert setting(at(plan, "rip-front"), "fence").accepts == ""
    height = {o.id: o.settings["height"] for o in plan.operations if "height" in o.settings}
    assert height["cut-block-1"] == Between(min=30, max=45)
    assert isinstance(next(o for o in plan.operations if o.id == "rip-front").settings["blade"], OneOf)


def test_room_left_is_what_later_cards_leave(tmp_path: Path) -> None:
    """The tilt is set once for two cards: what will do on the first does on the second, where it stays."""
    first = "fence = 10, tilt = { min = 21, max = 26 }"
    found = planned(tmp_path, in_a_row(first, "fence = 20, tilt = { min = 24, max = 29 }"))
    assert [setting(card, "tilt").accepts for card in cards(found)] == ["24° to 26°"] * 2
    found = planned(tmp_path, in_a_row(first, "fence = 20, tilt = { min = 27, max = 29 }"))
    assert [setting(card, "tilt").accepts for card in cards(found)] == ["21° to 26°", "27° to 29°"]
    found = planned(tmp_path, in_a_row(first, "fence = 20", "fence = 30, tilt = 25"))
    assert [setting(card, "tilt").accepts for card in cards(found)] == ["", "", ""]
    listed = ("fence = 10, speed = { any = [1, 2, 3] }", "fence = 20, speed = { any = [2, 3, 4] }")
    found = planned(tmp_path, in_a_row(*listed))
    assert [setting(card, "speed").accepts for card in cards(found)] == ["2 or 3"] * 2


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(
    ("first", "second", "tolerance", "told"),
    [
        ("{ min = 18, max = 19 }", "{ min = 20, max = 24 }", 2, ""),
        ("{ min = 18, max = 19 }", "{ min = 20, max = 24 }", 1, ""),
        ("{ any = [14, 17, 18] }", "{ any = [15, 17, 18] }", 2, ""),
        ("{ min = 18, max = 22 }", "{ min = 20, max = 24 }", 2, "20 {unit} to 22 {unit}"),
        ("{ any = [17, 18, 24] }", "{ any = [20, 18, 24] }", 2, "18 {unit} or 24 {unit}"),
    ],
)
def test_tolerance_is_no_room(
    tmp_path: Path, unit: str, first: str, second: str, tolerance: int, told: str
) -> None:
    """Served by tolerance alone, from a reading beside what they share (a cheap stop at 14) or where they share
    nothing, cards leave no room; where both take the reading, all that they share."""
    text = SHOP.replace('name = "Invented bench"', f'name = "b"\nunit = "{unit}"')
    fence = f"reset = 1\ntolerance = {tolerance}\nstops = [{{ value = 14, reset = 0.1 }}]\n"
    (tmp_path / "shop.toml").write_text(text.replace("reset = 1\n", fence, 1))
    job = in_a_row(f"tilt = 1, fence = {first}", f"tilt = 2, fence = {second}")
    (tmp_path / "job.toml").write_text(f'{job}\n[job]\nname = "j"\nshop = "shop.toml"\nunit = "{unit}"\n')
    lines = [setting(card, "fence") for card in cards(plan(load_job(tmp_path / "job.toml"), time_limit=10))]
    assert [line.moves for line in lines] == [True, False], "one standing serves both"
    assert [line.accepts for line in lines] == [told.format(unit=unit)] * 2


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [
        ("fence = 12.46", "fence = 12.54", ("12.46 mm", "12.54 mm")),
        ("fence = 12.123451", "fence = 12.123452", ("12.123451 mm", "12.123452 mm")),
        ("tilt = 45.001", "tilt = 45.004", ("45.001°", "45.004°")),
        ("tilt = 45.00011", "tilt = 45.00012", ("45.00011°", "45.00012°")),
        ("speed = 0.00001", "speed = -0.00001", ("0.00001", "-0.00001")),
        ("fence = '23/64 in'", "fence = 9.15", ("9.1 mm", "9.15 mm")),
    ],
)
def test_a_change_is_told_as_one(tmp_path: Path, first: str, second: str, told: tuple[str, str]) -> None:
    """Two values that the shop parts never read the same, on the cards and in what cannot be saved."""
    found = planned(tmp_path, in_a_row(first, second))
    moved = next(line for line in cards(found)[1].settings if line.moves)
    assert (moved.was, moved.value) == told
    assert cards(found)[0].settings[0].value == told[0]


def test_what_cannot_be_saved_is_told_as_the_cards_tell_it(tmp_path: Path) -> None:
    """A setting that must move moves between values that read differently."""
    found = planned(tmp_path, in_a_row("fence = 12.46", "fence = 12.54"))
    assert any(
        {"12.46 mm", "12.54 mm"} <= set(re.findall(r"[\d.]+ mm", reason.why)) for reason in found.reasons
    )


@pytest.mark.parametrize(
    ("low", "high", "value", "told"),
    [
        ("21.04", "21.08", "21.04 mm", "21.04 mm to 21.08 mm"),
        ("21.0412", "21.0438", "21.042 mm", "21.042 mm to 21.043 mm"),
        ("21.04", "21.26", "21.1 mm", "21.1 mm to 21.2 mm"),
    ],
)
def test_a_narrow_range_is_told_by_numbers_within_it(
    tmp_path: Path, low: str, high: str, value: str, told: str
) -> None:
    """Where no tenth lies in a range, hundredths or thousandths do: value and range are inside."""
    found = planned(tmp_path, in_a_row(f"fence = {{ min = {low}, max = {high} }}"))
    (line,) = cards(found)[0].settings
    assert (line.value, line.accepts) == (value, told)
    for number in re.findall(r"[\d.]+", f"{line.value} {line.accepts}"):
        assert float(low) <= float(number) <= float(high)


@pytest.mark.parametrize("count", [1, 4, 5, 8, 10])
def test_no_set_is_laid_out_for_work_written_by_hand(tmp_path: Path, count: int) -> None:
    """However many of a part's pieces (four and a spare) a step of the job file is on, no mates are guessed at."""
    part = '[[part]]\nid = "p"\nquantity = 4\nspare = 1\nlength = 300\nwidth = 100\nthickness = 20\nstock = "sized"\n'
    hand = f'[[operation]]\nid = "drill"\nstation = "saw"\npart = "p"\nquantity = {count}\n'
    (card,) = cards(planned(tmp_path, part + hand))
    assert card.work[0].way_round == ""


def test_boards_of_a_panel_are_laid_out_as_sets() -> None:
    """Of boards in a row only some edges meet a mate: the plunges of a panel say how these are found."""
    made = cards(plan(load_job(EXAMPLES / "board-panel" / "job.toml"), time_limit=10))
    some = [work for card in made for work in card.work if any(piece.of for piece in work.pieces)]
    assert some
    assert all("lay each set out as it is put together" in work.way_round for work in some)


def test_how_to_set_is_told_for_what_moves_only() -> None:
    """The free angle tells its setting block; settings that stay tell nothing."""
    card = at(tea_boxes("mm"), f"plunge-bevel-{AWKWARD}")
    assert "setting block no. 1" in setting(card, "fence_angle").how[0]
    assert all(not line.how for line in card.settings if not line.moves)


def test_mates_hold_from_the_first_to_the_last() -> None:
    """The card of the first mate holds both settings until the card of the last; no other card does."""
    plan = tea_boxes("mm")
    holding = {card.number: card.holds for card in cards(plan) if card.holds}
    first, last = at(plan, "plunge-face-front").number, at(plan, "plunge-end-side").number
    assert list(holding) == list(range(first, last))
    (hold,) = holding[first]
    assert hold.settings == (("fence height", "9 mm"), ("fence angle", "90°"))
    assert (hold.until, hold.operations) == (last, ("plunge side in both ends",))


def test_what_is_held_but_was_never_set_is_held_as_it_stands(tmp_path: Path) -> None:
    """No operation asks for the fence, yet it is to stay between two cuts with the tilt moved: worked out by hand."""
    job = in_a_row("tilt = 45", "tilt = 30")
    job += '[[mates]]\noperations = ["0", "1"]\nhold = ["saw.fence"]\n'
    first, last = cards(planned(tmp_path, job))
    assert [hold.settings for hold in first.holds] == [(("fence", "as it stands"),)]
    assert last.holds == ()


def test_mates_that_hold_the_same_are_told_once(tmp_path: Path) -> None:
    """Three pairs begun one after the other and finished the other way about: worked out by hand. The tilt is told once
    on each card, until the last of the pairs begun is made, with all that is to come in the order of the work; held for
    another reason it is told apart."""
    job = in_a_row(*(f"tilt = 45, fence = {place}" for place in range(10, 17)))
    pairs = {"both halves alike": ((0, 5), (1, 4), (2, 3)), "the block fits": ((1, 6),)}
    for why, groups in pairs.items():
        for first, last in groups:
            job += f'[[mates]]\noperations = ["{first}", "{last}"]\nhold = ["saw.tilt"]\nwhy = "{why}"\n'
    told = [
        {hold.why: (hold.until, hold.operations) for hold in card.holds}
        for card in cards(planned(tmp_path, job))
    ]
    alike, block = pairs
    assert told == [
        {alike: (6, ("5",))},
        {alike: (6, ("4", "5")), block: (7, ("6",))},
        {alike: (6, ("3", "4", "5")), block: (7, ("6",))},
        {alike: (6, ("4", "5")), block: (7, ("6",))},
        {alike: (6, ("5",)), block: (7, ("6",))},
        {block: (7, ("6",))},
        {},
    ]


def test_what_is_held_with_more_until_the_same_card_is_told_with_it(tmp_path: Path) -> None:
    """Tilt and fence are held from the first step to the third, the tilt for a block, too: one hold where both end with
    one card, with what is to come and why of both; two where the block comes later, worked out by hand."""
    job = in_a_row(*(f"tilt = 45, fence = 9, speed = {speed}" for speed in range(10, 14)))
    job += '[[mates]]\noperations = ["0", "2"]\nhold = ["saw.tilt", "saw.fence"]\nwhy = "both halves alike"\n'
    block = '[[mates]]\noperations = ["0", {}]\nhold = ["saw.tilt"]\nwhy = "the block fits"\n'
    both = ("tilt", "fence")

    def told(others: str) -> list[list[tuple[tuple[str, ...], int, tuple[str, ...], str]]]:
        made = cards(planned(tmp_path, job + block.format(others)))
        return [
            [(tuple(name for name, _ in h.settings), h.until, h.operations, h.why) for h in card.holds]
            for card in made
        ]

    assert told('"1", "2"') == [
        [(both, 3, ("1", "2"), "both halves alike; the block fits")],
        [(both, 3, ("2",), "both halves alike; the block fits")],
        [],
        [],
    ]
    assert told('"3"')[0] == [
        (both, 3, ("2",), "both halves alike"),
        (("tilt",), 4, ("3",), "the block fits"),
    ]


def test_what_is_left_standing_is_used_again_unmoved() -> None:
    """Every setting to be left has its value still on the card that uses it next, unmoved until then."""
    plan = tea_boxes("mm")
    made = cards(plan)
    leaves = [(card, leave) for card in made for leave in card.leaves]
    assert leaves
    for card, leave in leaves:
        between = [c for c in made[card.number : leave.until] if c.station == card.station]
        lines = [line for c in between for line in c.settings if line.name == leave.name]
        assert lines[-1].change == "stays"
        assert {(line.value, line.moves) for line in lines} == {(leave.value, False)}


def test_what_is_held_with_other_settings_is_told_with_all_of_them(tmp_path: Path) -> None:
    """Until the third step tilt and fence are held for one reason, fence and speed for another: neither holds what the
    other does, so both are told, and the fence twice.
    """
    row = (f"tilt = 45, fence = 9, speed = 7, feed = {feed}" for feed in (1, 2, 3))
    job = in_a_row(*row)
    for held, why in (('"saw.tilt", "saw.fence"', "one"), ('"saw.fence", "saw.speed"', "two")):
        job += f'[[mates]]\noperations = ["0", "2"]\nhold = [{held}]\nwhy = "{why}"\n'
    feed = '[[station.setting]]\nid = "feed"\nmeasures = "number"\nreset = 1\n'
    first = cards(planned(tmp_path, job, SHOP + feed))[0]
    assert [([name for name, _ in hold.settings], hold.until, hold.why) for hold in first.holds] == [
        (["tilt", "fence"], 3, "one"),
        (["fence", "speed"], 3, "two"),
    ]


def with_notes(plan: Plan, *notes: Notes) -> Plan:
    """The plan, its first steps with these notes."""
    said = dict(zip((step.operation for step in plan.steps), notes, strict=False))
    return plan.model_copy(
        update={
            "operations": tuple(
                op.model_copy(update={"notes": said.get(op.id, op.notes)}) for op in plan.operations
            )
        }
    )


def test_a_caution_for_most_steps_of_a_card_says_for_which(tmp_path: Path) -> None:
    """Of three steps two ask for goggles, all for the guard: only the one for all says no steps."""
    goggles, guard = Caution(says="goggles", source="invented"), Caution(says="guard", source="invented")
    found = planned(tmp_path, in_a_row("tilt = 5", "tilt = 5", "tilt = 5"))
    found = with_notes(
        found, Notes(cautions=(goggles, guard)), Notes(cautions=(guard,)), Notes(cautions=(guard, goggles))
    )
    (card,) = cards(found)
    assert [(each.says, each.steps) for each in card.cautions] == [("goggles", (1, 3)), ("guard", ())]


@pytest.mark.parametrize(
    ("notes", "told"),
    [(Notes(), ("edge", "face")), (Notes(fence="edge"), ()), (Notes(table="face"), ())],
)
def test_surfaces_are_told_where_no_note_says_what_lies_where(
    notes: Notes, told: tuple[str, ...], tmp_path: Path
) -> None:
    """A step that registers on edge and face of a board: where a note says what lies there, that will do."""
    registers = 'registers_on = ["board/edge", "board/face"]\n'
    found = with_notes(planned(tmp_path, in_a_row("tilt = 5") + 'part = "board"\n' + registers), notes)
    assert cards(found)[0].work[0].registers == told


def test_what_lies_and_is_checked_as_another_step(tmp_path: Path) -> None:
    """Alike in every word of how pieces lie, in what is set besides, and in the check; where either has pencil lines,
    or where nothing is told at all, it is not said.
    """
    found = planned(tmp_path, in_a_row("tilt = 5", "tilt = 5"))
    line = PencilLine(part="board", start="edge", across="face", at=(20.0,), what="")
    lies = Notes(fence="edge", table="face", way_round="left end first")
    check = Notes(check=Check(measure="the width", expect="20 mm", tolerance=""))

    def alike(*notes: Notes, **first: Any) -> bool:
        ops = found.operations[0].model_copy(update=first), *found.operations[1:]
        (card,) = cards(with_notes(found.model_copy(update={"operations": ops}), *notes))
        one, two = card.work
        assert one.same_lie(two) == two.same_lie(one)
        return one.same_lie(two)

    assert alike(lies, lies)
    assert alike(check, check)
    assert not alike(Notes(), Notes())
    assert not alike(lies, lies, set_too={"slot_length": "34 mm"})
    for other in ({"fence": "face"}, {"table": "edge"}, {"way_round": ""}, {"check": check.check}):
        assert not alike(lies, lies.model_copy(update=other)), other
    assert not alike(lies, lies.model_copy(update={"lines": (line,)}))
    assert not alike(lies.model_copy(update={"lines": (line,)}), lies)


def test_each_card_tells_since_when_it_stands_and_what_to_leave(tmp_path: Path) -> None:
    """Tilt 5, 8, -, 8, 5 and fence 10, -, 20, 30, 30, worked out by hand: what stays was set by the card that moved it
    last, and is worth leaving only on a card that needs it, for one that needs it before it is moved again.
    """
    row = ("tilt = 5, fence = 10", "tilt = 8", "fence = 20", "tilt = 8, fence = 30", "tilt = 5, fence = 30")
    made = cards(planned(tmp_path, in_a_row(*row)))
    assert [(setting(card, "tilt").change, setting(card, "tilt").since) for card in made] == [
        *(("set", 0), ("changed", 0), ("idle", 2), ("stays", 2), ("changed", 0))
    ]
    assert [(setting(card, "fence").change, setting(card, "fence").since) for card in made] == [
        *(("set", 0), ("idle", 1), ("changed", 0), ("changed", 0), ("stays", 4))
    ]
    leaves = [[(leave.name, leave.value, leave.until) for leave in card.leaves] for card in made]
    assert leaves == [[], [("tilt", "8°", 4)], [], [("fence", "30 mm", 5)], []]


def test_what_is_held_is_told_as_it_stands_for_the_mates(tmp_path: Path) -> None:
    """The tilt is at 10, then at 45 from the first of the mates to the last, then at 20: held is 45."""
    job = in_a_row("tilt = 10", "tilt = 45, fence = 1", "fence = 2", "tilt = 45, fence = 3", "tilt = 20")
    job += '[[mates]]\noperations = ["1", "3"]\nhold = ["saw.tilt"]\n'
    held = [[hold.settings for hold in card.holds] for card in cards(planned(tmp_path, job))]
    assert held == [[], [(("tilt", "45°"),)], [(("tilt", "45°"),)], [], []]


def test_what_comes_next_is_the_next_card() -> None:
    """Each card names the next card, its station and its first step; the last names none."""
    plan = tea_boxes("mm")
    made = cards(plan)
    for card, after in pairwise(made):
        assert card.next is not None
        assert (card.next.number, card.next.station) == (after.number, after.station)
        assert card.next.what == after.work[0].what
        here, there = (plan.setups[each.number - 1].station for each in (card, after))
        assert card.next.same_station == (here == there)
    assert made[-1].next is None


def test_pieces_are_told_apart_where_they_can_be() -> None:
    """Pieces, cuts of each piece, and sets put together are told apart by the quantities of the parts."""
    plan = tea_boxes("mm")

    def pieces(operation: str, quantity: int) -> tuple[Pieces, ...]:
        steps = tuple(
            step.model_copy(update={"quantity": quantity}) if step.operation == operation else step
            for step in plan.steps
        )
        return PlanBook(plan.model_copy(update={"steps": steps})).pieces(operation)

    assert pieces("glue-up", 20) == (Pieces("front", 8), Pieces("side", 8), Pieces("bottom", 4))
    assert pieces("bevel-front", 16) == (Pieces("front", 8, each=2),)
    assert pieces("glue-up", 4) == (
        Pieces("front", 8, sets=4),
        Pieces("side", 8, sets=4),
        Pieces("bottom", 4, sets=4),
    )
    assert pieces("rip-bottom", 3) == (Pieces("bottom", 3, of=4),)
    assert pieces("sand-inside", 5) == (Pieces("front", None), Pieces("side", None))
    assert pieces("cut-block-1", 1) == (Pieces("", 1),)
    bare = plan.model_copy(update={"parts": ()})
    assert PlanBook(bare).pieces("sand-inside") == (Pieces("front", None), Pieces("side", None))
    assert PlanBook(bare).pieces("bevel-front") == (Pieces("front", 8),)


@given(st.integers(1, 10**6))
def test_tick_boxes_cover_all_pieces(count: int) -> None:
    """Boxes times pieces a box come to the count, none is left over, and there are never too many."""
    plan = many(1)
    step = plan.steps[0].model_copy(update={"quantity": count})
    (card,) = cards(plan.model_copy(update={"steps": (step,)}))
    (work,) = card.work
    assert work.ticks <= MOST_TICKS
    assert (work.ticks - 1) * work.per_tick < count <= work.ticks * work.per_tick
    assert work.per_tick == 1 or count > MOST_TICKS


@pytest.mark.parametrize(
    ("needed", "spare", "told"),
    [
        (42, 4, "each box 2 pieces; 4 are spares"),
        (42, 1, "each box 2 pieces; 1 is a spare"),
        (90, 0, "each box 5 pieces"),
        (36, 4, ""),
    ],
)
def test_boxes_of_several_pieces_tell_the_spares(needed: int, spare: int, told: str) -> None:
    """Where a box stands for several pieces none is dashed: beside the boxes it says how many spares there are."""
    plan = many(1)
    part = PartRecord(
        id="side", quantity=needed + spare, spare=spare, length=300.0, width=60.0, thickness=20.0
    )
    operation = Operation(id=plan.steps[0].operation, station=plan.steps[0].station, parts=("side",))
    step = plan.steps[0].model_copy(update={"quantity": needed + spare})
    changed = {"steps": (step,), "operations": (operation,), "parts": (part,)}
    whole = plan.model_copy(update=changed)
    (card,) = cards(whole)
    assert card.work[0].each_box == told
    assert card.work[0].spare_ticks == (0 if told else spare)
    out = StringIO()
    print_cards(whole, Console(width=200, file=out, color_system=None))
    pdf = PdfReader(BytesIO(set_booklet(booklet_values(whole))))
    for said in (out.getvalue(), write_html(whole), "".join(page.extract_text() for page in pdf.pages)):
        words = " ".join(said.split())
        assert told in words
        assert ("each box" in words) is bool(told)


def test_boxes_of_two_parts_tell_the_spares_of_both() -> None:
    """22 rails, 2 of them spare, and 25 stiles, 3 of them spare, worked in one step: 47 boxes are too many."""
    plan, (step, *_) = many(1), many(1).steps
    sizes = {"length": 300.0, "width": 60.0, "thickness": 20.0}
    parts = (
        PartRecord(id="rail", quantity=22, spare=2, **sizes),
        PartRecord(id="stile", quantity=25, spare=3, **sizes),
    )
    operation = Operation(id=step.operation, station=step.station, parts=("rail", "stile"), quantity=47)
    changed = {
        "steps": (step.model_copy(update={"quantity": 47}),),
        "operations": (operation,),
        "parts": parts,
    }
    (card,) = cards(plan.model_copy(update=changed))
    assert card.work[0].each_box == "each box 2 pieces; 5 are spares"


def test_cautions_stand_once_and_say_for_which_step() -> None:
    """A caution of all steps stands once without numbers; one of some steps with theirs."""
    card = at(tea_boxes("mm"), "cut-block-1")
    assert [(caution.says[:5], caution.steps) for caution in card.cautions] == [
        ("Leave", ()),
        ("Guard", (card.work[1].step,)),
    ]
    assert all(caution.source for each in cards(tea_boxes("mm")) for caution in each.cautions)


def test_hand_written_operations_still_give_cards() -> None:
    """A plan without parts, notes and stations gives cards from its steps alone."""
    first = cards(two_shelves())[0]
    assert (first.station, first.work[0].what) == ("saw", "rip")
    assert setting(first, "fence").value == "240"
    bare = cards(two_shelves().model_copy(update={"operations": ()}))
    assert [work.what for card in bare for work in card.work] == ["rip", "crosscut", "house", "trim"]


def test_reasons_point_backward() -> None:
    """What a step follows comes earlier, nearest first; the unmet is no reason."""
    plan = tea_boxes("mm")
    lines = [step for group in step_list(plan) for step in group.steps]
    told = 0
    for line in lines:
        assert [why.step for why in line.follows] == sorted((w.step for w in line.follows), reverse=True)
        assert all(why.step < line.number for why in line.follows)
        told += len(line.follows)
    assert told == sum(edge.kept for edge in plan.precedence)


def test_overview_adds_up() -> None:
    """Stations and settings come to the plan's totals, and savings to the habits' costs."""
    plan = tea_boxes("mm")
    view = overview(plan)
    assert isclose(sum(line.reset_minutes for line in view.stations), plan.reset_minutes)
    assert sum(setting.resets for line in view.stations for setting in line.settings) == plan.reset_count
    assert isclose(sum(line.walk_minutes for line in view.stations), plan.walk_minutes)
    assert isclose(sum(line.work_minutes for line in view.stations), plan.work_minutes)
    assert view.walk_count == sum(step.walk_minutes > 0 for step in plan.steps)
    for line, habit in zip(view.habits, plan.habits, strict=True):
        assert isclose(line.saves_minutes, habit.cost_minutes - plan.cost_minutes)
    assert view.gap_minutes == 1.5
    assert [saving.rule for saving in view.rule_savings] == ["surface.destroyed", "setting-block"]
    (wish,) = view.unmet
    assert wish.before_step > wish.after_step
    assert view.least_costs[0].settings == ("table saw tilt",)


def test_long_and_awkward_names_come_through_whole() -> None:
    """Names are kept letter for letter."""
    parts = {piece.part for card in cards(tea_boxes("mm")) for work in card.work for piece in work.pieces}
    assert {LONG, AWKWARD} <= parts


def test_readings() -> None:
    """Numbers lose no digit that matters, and names are left alone."""
    assert reading(12.3456, "number", "mm") == "12.3456"
    assert reading(3.0, None, "mm") == "3"
    assert reading("straight-6", "length", "mm") == "straight-6"
    assert reading(None, "angle", "mm") == ""


def test_a_cutter_is_told_as_it_is_marked_in_what_cannot_be_saved(tmp_path: Path) -> None:
    """In a job in inches, cutters that the shop lists in mm read in mm, on the cards and in the reasons."""
    (tmp_path / "shop.toml").write_text(
        "[shop]\nname = 'Invented'\nunit = 'mm'\n[[station]]\nid = 'mortiser'\n"
        "[[station.setting]]\nid = 'cutter'\nmeasures = 'length'\nreset = 2\nvalues = [5, 6]\n",
        encoding="utf-8",
    )
    cuts = "".join(
        f"[[operation]]\nid = 'plunge {size}'\nstation = 'mortiser'\nsettings = {{ cutter = '{size} mm' }}\n"
        for size in (5, 6)
    )
    (tmp_path / "job.toml").write_text(
        f"[job]\nname = 'Slots'\nunit = 'in'\nshop = 'shop.toml'\n{cuts}", encoding="utf-8"
    )
    found = plan(load_job(tmp_path / "job.toml"), time_limit=10)
    (reason,) = found.reasons
    ways = reason.why.partition(": ")[2].split(", ")
    assert sorted(ways) == ['to 5 mm for "plunge 5"', 'to 6 mm for "plunge 6"']
    assert {card.settings[0].value for card in cards(found)} == {"5 mm", "6 mm"}
