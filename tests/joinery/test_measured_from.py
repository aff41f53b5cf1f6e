"""Whatever a card measures from is there: its lines and its check start from surfaces the operation registers on.

The surface law then keeps any work that takes such a surface away for later. A surface that the operation itself
takes away (the end a bevel's own lines start from) is there until then.
"""

import re
from pathlib import Path
from random import Random

import pytest

from sequencer import load_job
from sequencer.diagnostics import SequencerError
from sequencer.joinery import derive
from sequencer.pipeline import order, prepare

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
SURFACE = r"(?:left|right|far edge|edge) (?:bevel|mitre)|left end|right end|far edge|edge|face|back"
FROM = re.compile(rf"from the ({SURFACE})(?: \(\w+\))?(?: or ({SURFACE}))?")


NAMED = re.compile(rf"\b({SURFACE})\b")


def measured_from(op):
    """The surfaces, "part/surface", that an operation's lines, check and words measure from, or that lie on fence and
    table (what stands in brackets explains)."""
    found = {f"{line.part}/{surface}" for line in op.notes.lines for surface in (line.start, line.across)}
    said = [op.notes.way_round, op.notes.what, *([op.notes.check.measure] if op.notes.check else [])]
    for words in said:
        for names in FROM.findall(words):
            found |= {f"{op.parts[0]}/{name}" for name in names if name}
    if op.kind in ("dry-fit", "glue"):  # clamps, and what is done about a joint that does not close
        return found
    for words in (op.notes.fence, op.notes.table):
        found |= {f"{op.parts[0]}/{name}" for name in NAMED.findall(re.sub(r"\([^)]*\)", "", words))}
    return found


def demand_registered(operations):
    """Every operation registers on what it measures from, unless it makes it or takes it away itself."""
    for op in operations:
        missing = measured_from(op) - set(op.registers_on) - set(op.destroys) - set(op.makes)
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


CASE = (
    part("top", 500, quantity=1)
    + part("bottom", 500, quantity=1)
    + part("end", 300)
    + joint("corner", "case-mitre", ["top", "end", "bottom", "end"])
)
SIDES = ("left end", "right end", "edge", "far edge")
SIZES = (40, 97, 241, 333, 442)


@pytest.mark.parametrize("at", SIZES)
def test_in_a_mitred_case_with_a_divider(job, at):
    """Round the case top and bottom lie turned end for end: 500 less 18 less `at`."""
    text = CASE + part("divider", 264, quantity=1)
    for end, board, place in (("left end", "top", at), ("right end", "bottom", 482 - at)):
        text += joint(
            f"at the {board}", "end-to-face", ["divider", board], f'at = [{place}]\nends = ["{end}"]'
        )
    demand_registered(derive(job(text)).operations)


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


@pytest.mark.parametrize("seed", range(6))
def test_in_random_cases(job, seed):
    """A case with shelves, grooves, rebates and housings wherever they come, bevelled and mitred, from rough stock or
    sized; what does not fit is refused and drawn anew."""
    random, made = Random(seed), 0
    for _ in range(40):
        wide, thick, high = random.choice((120, 150, 180)), random.choice((18, 22)), random.randint(260, 700)
        stock = random.choice(("sized", "rough", "sheet"))
        text = "".join(part(name, high, wide, thick) for name in ("a", "b")) + part("shelf", 300, wide, thick)
        text = text.replace('stock = "sized"', f'stock = "{stock}"')
        case = random.choice(("case-mitre", "splayed", "frame-mitre"))
        ways = {"case-mitre": ["closed = false", 'ways = ["square-first"]', 'ways = ["bevel-first"]', ""]}
        text += joint(
            "ring",
            case,
            ["a", "b"],
            "slope = 75" if case == "splayed" else random.choice(ways.get(case, [""])),
        )
        if random.random() < 0.8:
            at = random.randint(0, high - thick)
            on = random.choice(("back", "face"))
            text += joint(
                "shelf", "end-to-face", ["shelf", "a"], f'at = [{at}]\nends = ["left end"]\non = ["{on}"]'
            )
        if random.random() < 0.5:
            text += joint("r", "rebate", ["b"], f'beside = "{random.choice(SIDES)}"\nwidth = 9\ndepth = 5')
        if random.random() < 0.5:
            text += joint(
                "h", "housing", ["b"], f"at = [{random.randint(0, high - 20)}]\nwidth = 18\ndepth = 5"
            )
        try:
            operations = derive(job(text)).operations
        except SequencerError:
            continue
        demand_registered(operations)
        made += 1
    assert made > 3


def test_a_plunge_along_a_batten_comes_before_the_bevel_of_the_end_its_line_starts_from(job):
    """Bevel first, and the divider beyond the reach of the fence (60 mm): 241 + 18 / 2 = 250 mm from the left end, the
    batten's line at 240. Sawn away by the thickness on the inside, the end would put it 18 mm out."""
    text = part("top", 500) + part("end", 300)
    text += joint("corner", "case-mitre", ["top", "end"], 'ways = ["bevel-first"]')
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
