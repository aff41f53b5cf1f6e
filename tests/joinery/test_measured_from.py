"""Whatever a card measures from is there: its lines and its check start from surfaces the operation registers on.

The surface law then keeps any work that takes such a surface away for later. A surface that the operation itself
takes away (the end a bevel's own lines start from) is there until then.
"""

import re
from pathlib import Path

import pytest

from sequencer import load_job
from sequencer.joinery import derive
from sequencer.pipeline import order, prepare

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
SURFACE = r"left end|right end|far edge|edge|face|back|(?:left|right|edge|far edge) (?:bevel|mitre)"
FROM = re.compile(rf"from the ({SURFACE})(?: \(\w+\))?(?: or ({SURFACE}))?")


def measured_from(op):
    """The surfaces, "part/surface", that an operation's lines, check and words measure from."""
    found = {f"{line.part}/{surface}" for line in op.notes.lines for surface in (line.start, line.across)}
    said = [op.notes.way_round, op.notes.what, *([op.notes.check.measure] if op.notes.check else [])]
    for words in said:
        for names in FROM.findall(words):
            found |= {f"{op.parts[0]}/{name}" for name in names if name}
    return found


def demand_registered(operations):
    """Every operation registers on what it measures from, unless it takes it away itself."""
    for op in operations:
        missing = measured_from(op) - set(op.registers_on) - set(op.destroys)
        assert not missing, f"{op.id} measures from {sorted(missing)}, and registers on {op.registers_on}"


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_in_every_example(path):
    demand_registered(derive(load_job(path)).operations)


def part(name, length, width=150, thickness=18, quantity=2):
    return (
        f'[[part]]\nid = "{name}"\nquantity = {quantity}\nlength = {length}\nwidth = {width}\n'
        f'thickness = {thickness}\nstock = "sized"\n'
    )


def joint(name, kind, parts, more=""):
    return f'[[joint]]\nid = "{name}"\nkind = "{kind}"\nparts = {parts}\n{more}\n'.replace("'", '"')


CASE = part("top", 500) + part("end", 300) + joint("corner", "case-mitre", ["top", "end"])
SIZES = (40, 97, 241, 333, 442)


@pytest.mark.parametrize("at", SIZES)
@pytest.mark.parametrize("on", ['["back"]', '["face"]'])
def test_in_a_mitred_case_with_a_divider(job, at, on):
    text = CASE + part("divider", 264, quantity=1)
    more = f"at = [{at}]\non = {on}"
    demand_registered(derive(job(text + joint("middle", "end-to-face", ["divider", "top"], more))).operations)


@pytest.mark.parametrize(
    "trench",
    [
        'kind = "groove"\non = "face"\nbeside = "far edge"\nfrom = 60\nwidth = 6\ndepth = 5',
        'kind = "rebate"\non = "back"\nbeside = "left end"\nwidth = 12\ndepth = 5',
        'kind = "rebate"\non = "face"\nbeside = "far edge"\nwidth = 12\ndepth = 5',
        'kind = "housing"\nat = [200, 350]\nwidth = 18\ndepth = 5',
    ],
)
def test_of_every_trench(job, trench):
    text = part("board", 600) + f'[[joint]]\nid = "t"\nparts = ["board"]\n{trench}\n'
    demand_registered(derive(job(text)).operations)


RINGS = [
    joint("ring", "splayed", ["a"], "slope = 70\nsides = 6"),
    joint("ring", "splayed", ["a"], "slope = 70\nsides = 6\nlevel_edges = true"),
    joint("ring", "stave", ["a"], "sides = 6"),
    joint("ring", "frame-mitre", ["a"], "corner = 120"),
    joint("ring", "case-mitre", ["a"], "corner = 120"),
]


@pytest.mark.parametrize("ring", RINGS)
def test_of_every_ring(job, ring):
    demand_registered(derive(job(part("a", 300, 90, 18, 6) + ring)).operations)


def test_a_plunge_along_a_batten_comes_before_the_bevel_of_the_end_its_line_starts_from(job):
    """Bevel first, and the divider beyond the reach of the fence (60 mm): 241 + 18 / 2 = 250 mm from the left end, the
    batten's line at 240. Sawn away by the thickness on the inside, the end would put it 18 mm out."""
    text = CASE.replace('parts = ["top", "end"]', 'parts = ["top", "end"]\nways = ["bevel-first"]')
    text += part("divider", 264, quantity=1) + joint(
        "middle", "end-to-face", ["divider", "top"], "at = [241]"
    )
    plan = order(prepare(job(text)), 5.0)
    steps = [op for setup in plan.setups for op in setup.operations]
    (plunge,) = [
        op for op in plan.operations if op.kind == "plunge" and op.parts == ("top",) and op.joint == "middle"
    ]
    (line,) = [line for line in plunge.notes.lines if "batten" in line.what]
    assert (line.start, line.at) == ("left end", (240.0,))
    assert "top/left end" in plunge.registers_on
    assert steps.index(plunge.id) < steps.index("corner-bevel-top")
