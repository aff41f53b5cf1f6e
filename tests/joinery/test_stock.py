"""What is sawn off bought stock, as the saw does it: the fence tells what is left beside the blade, not what goes."""

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive
from sequencer.operations import Between

PART = """
[[part]]
id = "panel"
quantity = 2
length = 600
width = {width}
thickness = 18
stock = "{stock}"
[[joint]]
id = "groove"
kind = "groove"
parts = ["panel"]
from = 8
width = 6
depth = 5
"""


@pytest.mark.parametrize(("width", "blank"), [(200, 206), (199.5, 206)])
def test_both_edges_of_a_sheet_are_sawn(job, width, blank):
    """A blank 6 mm over its width, rounded up to whole mm, loses some at either pass, whatever the fence's range."""
    first, second = [
        op for op in derive(job(PART.format(width=width, stock="sheet"))).operations if op.kind == "rip"
    ]
    fence = first.settings["fence"]
    assert isinstance(fence, Between)
    for between in (fence.min, fence.max):
        assert blank - between >= 2  # off the first edge
        assert between - second.settings["fence"] >= 2  # off the second
    third = (blank - width) / 3
    assert (fence.min, fence.max) == pytest.approx(
        (width + third, width + 2 * third)
    )  # with 200 mm, 202 and 204
    assert second.settings["fence"] == width
    assert (first.makes, second.makes) == (("panel/edge",), ("panel/far edge",))
    assert "panel/edge" in second.registers_on
    assert [cut.surface for op in (first, second) for cut in op.cuts] == ["edge", "far edge"]


def test_planed_stock_has_one_edge_already(job):
    """Its straight edge runs along the fence: one pass to width."""
    (rip,) = [op for op in derive(job(PART.format(width=200, stock="planed"))).operations if op.kind == "rip"]
    assert (rip.makes, rip.settings["fence"]) == (("panel/far edge",), 200)


@pytest.mark.parametrize(("over", "fits"), [(0, False), (1.5, True), (1, False), (2, True)])
def test_a_sheet_without_anything_over_is_refused(job, over, fits):
    """Both edges cannot be sawn off a sheet that is as wide as it stays; 201.5 is rounded up to 202."""
    text = PART.format(width=200, stock="sheet")
    shop = f"\nallowance = {{ width = {over} }}\n"
    if fits:
        derive(job(text, shop=shop))
        return
    with pytest.raises(InputError) as refused:
        derive(job(text, shop=shop))
    (fault,) = refused.value.faults
    assert f"has {over} mm over its width" in fault.message
    assert "2 mm or more" in fault.accepted
    assert 'stock = "sized"' in fault.accepted
    derive(job(PART.format(width=200, stock="sized"), shop=shop))
