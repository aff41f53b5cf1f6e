"""Sizes in mixed-up units make enormous boards: they are refused after as few tries as others, and as they are."""

from itertools import pairwise

import pytest

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.joinery import derive
from sequencer.joinery.basis.seats import Body, Pair, Seat, rail_seat
from sequencer.joinery.basis.tries import SIZES, least_that_passes, marks
from sequencer.joinery.slots.congruent import one_of_each
from sequencer.joinery.slots.placement import Placement
from sequencer.joinery.trenches.cuts import lengthwise
from sequencer.model.shop import Range
from tests.joinery.test_held import joint, part


def counting(monkeypatch, kind, name):
    """The calls of a method while the test runs: a list that grows by one with each."""
    calls = []
    method = getattr(kind, name)

    def counted(self, *given):
        calls.append(name)
        return method(self, *given)

    monkeypatch.setattr(kind, name, counted)
    return calls


@pytest.mark.parametrize(
    ("unit", "length", "width", "thick"),
    [("in", 1200, 600, 18), ("mm", 20000, 20000, 1000), ("mm", 1000000, 1000000, 100000)],
)
def test_an_enormous_board_is_not_tried_at_every_thickness(job, monkeypatch, unit, length, width, thick):
    """Numbers of millimetres read as inches: no mortise of 30 mm does, and no stock up to twice as thick is tried mm by
    mm to find that out. An 18 mm board takes some hundreds of tries at most.
    """
    fits, walls = counting(monkeypatch, Placement, "fit"), counting(monkeypatch, Seat, "walls")
    text = part("side", length, width, thick, 4) + joint("corner", "case-mitre", ["side"])
    with pytest.raises(NoOrderError) as caught:
        derive(job(text, unit=unit))
    assert "no other depth serves" in str(caught.value)
    assert "length stop" in str(caught.value)
    assert len(fits) <= 150
    assert len(walls) <= 100_000


def test_a_thick_board_is_not_tried_at_every_height(job, monkeypatch):
    """A slip a metre long holds in no mortise, at whatever height: 100 of the 100,000 between the middle of a board
    100 m thick and its other side tell."""
    walls = counting(monkeypatch, Seat, "walls")
    text = part("rail", 900, 200, 100_000, 2) + part("stile", 900, 100_000, 100_000, 2)
    text += joint("frame", "end-to-edge", ["rail", "stile"], "slips = { depths = [30, 30], length = 1000 }")
    with pytest.raises(InputError, match="longer than both mortises"):
        derive(job(text))
    assert len(walls) <= 20_000


def test_boards_that_are_alike_are_tried_as_one(job, monkeypatch):
    """A ring of a hundred nearly flat boards in which no slot holds by the first cutters: that each board has a table
    of its own makes the tries no dearer than where one table tells of all. But in the end the walls are looked at in
    each: at both ends of the row, in both seats of a hundred corners.
    """
    looked, counts = counting(monkeypatch, Seat, "walls"), []
    each = "".join(part(f"b{k}", 1500, 1000, 18) for k in range(100))
    for text, names in ((part("b", 1500, 1000, 18, 100), ["b"]), (each, [f"b{k}" for k in range(100)])):
        ring = joint("ring", "splayed", names, "slope = 2\nlevel_edges = true\nsides = 100")
        looked.clear()
        with pytest.raises(InputError, match="tilt"):
            derive(job(text + ring))
        counts.append(len(looked))
    one, many = counts
    assert many <= one + 2 * 2 * 100


def test_only_boards_with_the_same_figures_are_alike(job):
    """Of a rail, one like it, one with a groove and one a tenth thicker the second is the first again."""
    text = "".join(part(f"r{k}", 400, 80, thick) for k, thick in enumerate((20, 20, 20, 20.1)))
    groove = joint("g", "groove", ["r2"], "from = 30\nwidth = 8\ndepth = 4")
    made = job(text + groove)
    bodies = [Body.of(each, (), lengthwise(made.joints, each)) for each in made.parts]
    pairs = [Pair(seat, seat, 10.0, 0.0, 20.0) for seat in (rail_seat(body, "left end") for body in bodies)]
    assert [pair.first.part.id for pair in one_of_each(pairs)] == ["r0", "r2", "r3"]
    assert one_of_each([pairs[1], Pair(pairs[0].first, pairs[0].first, 9.0, 0.0, 20.0)]) != (pairs[1],)


def reaching(loaded, most):
    """A job in a shop whose mortiser's fence goes up to `most`, mm."""
    stations = tuple(
        station.model_copy(
            update={
                "settings": tuple(
                    each.model_copy(update={"limits": Range(min=3, max=most)})
                    if each.id == "fence_height"
                    else each
                    for each in station.settings
                )
            }
        )
        for station in loaded.shop.stations
    )
    return loaded.model_copy(update={"shop": loaded.shop.model_copy(update={"stations": stations})})


def thick_panel(job, thick, wall, reach):
    """Two boards, an edge joint with one slip, in a shop that keeps this wall and whose fence reaches so high."""
    text = part("one", 1000, 400, thick, 1) + part("two", 1000, 400, thick, 1)
    text += joint("panel", "edge-to-edge", ["one", "two"], "slips = { count = 1 }")
    return reaching(job(text, shop=f"\nleast_wall = {wall}\n"), reach)


@pytest.mark.parametrize(
    ("wall", "thick", "stock", "reach"), [(20, 40, 45, 60), (50, 90, 105, 60), (150, 200, 305, 160)]
)
def test_thick_stock_is_told_as_closely_as_thin(job, wall, thick, stock, reach):
    """A slot of 5 mm (the thinnest cutter) and two walls take 5 mm and twice the wall: told to the millimetre, and the
    thinner wall to the half: half of what the thickness leaves beside the slot. Both pass when they are taken; a fence
    reaches half of the thicker stock."""
    with pytest.raises(InputError) as caught:
        derive(thick_panel(job, thick, wall, reach))
    (fault,) = caught.value.faults
    assert (
        f"stock {thick} mm thick is too thin for a slot of 12 mm and two walls of {wall} mm" in fault.message
    )
    assert f"stock {stock} mm thick (depth" in fault.accepted
    assert f"a least_wall of {(thick - 5) / 2:g} mm in" in fault.accepted
    assert derive(thick_panel(job, stock, wall, reach))
    assert derive(thick_panel(job, thick, (thick - 5) / 2, reach))


def test_stock_that_the_fence_does_not_reach_the_middle_of_is_not_told(job):
    """Half of 305 mm is beyond a fence that goes to 60; so is half of 200, whatever the wall."""
    with pytest.raises(InputError) as caught:
        derive(thick_panel(job, 200, 150, 60))
    (fault,) = caught.value.faults
    assert "305" not in fault.accepted
    assert "least_wall" not in fault.accepted


def test_few_are_all_tried_and_the_least_is_told():
    """Up to `SIZES` are tried one after the other, and the first that passes is told though later ones do not."""
    for number in range(SIZES + 1):
        tried = []
        assert least_that_passes(number, tried.append) is None
        assert tried == list(range(1, number + 1))
        for least in range(1, number + 1):
            assert least_that_passes(number, {least: "found"}.get) == (least, "found")


@pytest.mark.parametrize("number", [33, 100, 1000, 10**6])
def test_of_many_the_least_is_found_between_two(number):
    """Where all from some on pass, that one is told, after the even shares and as many halves as there are digits."""
    for least in {1, 2, number // 3, number - 1, number}:
        tried = []

        def passes(k, least=least, tried=tried):
            tried.append(k)
            return "passes" if k >= least else None

        assert least_that_passes(number, passes) == (least, "passes")
        assert len(tried) <= SIZES + number.bit_length()
        assert len(set(tried)) == len(tried)


def test_marks_are_those_of_the_grid():
    """All multiples between two lengths where they are few, the first without, the last with its end; else some."""
    assert marks(1.0, 2.5, 0.5, 100) == [1.5, 2.0, 2.5]
    assert marks(0.9, 2.4, 0.5, 100) == [1.0, 1.5, 2.0]
    assert marks(2.0, 1.0, 0.5, 100) == []
    some = marks(0.0, 100_000.0, 0.5, 100)
    assert len(some) == 100
    assert some[0] == 0.5
    assert all(b - a == 1000.0 for a, b in pairwise(some))
