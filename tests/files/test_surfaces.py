"""Surfaces that operations by hand name: a slip of the pen would order nothing, and is refused or remarked."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequencer.diagnostics import InputError
from sequencer.files import load_job
from sequencer.model.surfaces import is_slip

SHOP = Path(__file__).parents[2] / "examples" / "shop.toml"
STRIP = '[[part]]\nid = "strip"\nlength = 400\nwidth = 60\nthickness = 20\nstock = "sized"\n'
GROOVE = '[[joint]]\nid = "bottom"\nkind = "groove"\nparts = ["strip"]\nfrom = 8\nwidth = 6\ndepth = 6\n'
BOARD = '"face", "back", "edge", "far edge", "left end", "right end"'


def operation(id: str, more: str, part: str = "strip") -> str:
    """An operation on the strip (or on no part)."""
    return (
        f'[[operation]]\nid = "{id}"\nstation = "saw"\n'
        + (f'part = "{part}"\n' if part else "")
        + more
        + "\n"
    )


def written(folder: Path, tables: str, shop: str = "") -> Path:
    """The job file of these tables, with the examples' shop and what is added to it."""
    (folder / "shop.toml").write_text(SHOP.read_text(encoding="utf-8") + shop, encoding="utf-8")
    path = folder / "job.toml"
    path.write_text(f'[job]\nshop = "shop.toml"\n{tables}', encoding="utf-8")
    return path


def said(path: Path) -> list[str]:
    """The faults of a job, without the names of the file and its line."""
    with pytest.raises(InputError) as refused:
        load_job(path)
    return [str(fault).partition(": ")[2] for fault in refused.value.faults]


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (
            'registers_on = ["egde"]',
            f'registers_on names no surface: "egde" (did you mean "edge"?)\n    accepted: {BOARD}'
            ', or an operation with makes = ["egde"]',
        ),
        (
            'destroys = ["strip/left  end"]',
            f'destroys names no surface: "left  end" (did you mean "left end"?)\n    accepted: {BOARD}'
            ', or an operation with makes = ["left  end"]',
        ),
        (
            'registers_on = ["tenon"]\nmakes = ["tongue"]',
            f'registers_on names no surface: "tenon"\n    accepted: {BOARD}, "tongue"'
            ', or an operation with makes = ["tenon"]',
        ),
        ('registers_on = ["strip/"]', f'registers_on names no surface: ""\n    accepted: {BOARD}'),
    ],
)
def test_a_surface_nobody_makes(tmp_path: Path, more: str, message: str) -> None:
    """Where there are boards, what is guided by one or taken off it is a surface it has, or one that is made."""
    path = written(tmp_path, STRIP + operation("a", more))
    assert said(path) == [f'operation "a": {message}']


def test_surfaces_there_are(tmp_path: Path) -> None:
    """Those of a board, by either name; those that another operation makes, one of an option out of reach, too; those
    that derived operations make; those of no board.
    """
    names = (
        "reference edge",
        "face",
        "tongue",
        "tenon",
        "groove bottom",
        "setting block of 30°",
    )
    choice = '[[choice]]\nid = "c"\noptions = { x = ["far"], y = ["near"] }\n'
    path = written(
        tmp_path,
        STRIP
        + GROOVE
        + operation("a", "registers_on = [" + ", ".join(f'"{name}"' for name in names) + "]")
        + operation("b", 'makes = ["strip/tongue"]', part="")
        + operation("far", 'makes = ["tenon"]\nsettings = { tilt = 80 }')
        + operation("near", 'makes = ["tenon"]')
        + operation("jig", 'registers_on = ["jig"]\ndestroys = ["/stop block"]', part="")
        + choice,
    )
    job = load_job(path)
    assert [each.way for each in job.struck_out] == ["x"]
    assert job.remarks == ()


@pytest.mark.parametrize(
    ("joint", "made"),
    [
        ('kind = "case-mitre"\nparts = ["strip"]', ("left bevel", "right bevel")),
        ('kind = "case-mitre"\nparts = ["strip", "rail"]\nclosed = false', ("right bevel",)),
        ('kind = "frame-mitre"\nparts = ["strip"]', ("left mitre", "right mitre")),
        ('kind = "splayed"\nslope = 80\nparts = ["strip"]', ("left bevel", "right bevel")),
        (
            'kind = "splayed"\nslope = 80\nparts = ["strip"]\nlevel_edges = true',
            ("left bevel", "right bevel", "level edge", "level far edge"),
        ),
        ('kind = "stave"\nsides = 8\nparts = ["strip"]', ("edge bevel", "far edge bevel")),
        ('kind = "edge-to-edge"\nboards = 3\nparts = ["strip"]', ("glued-up panel",)),
        ('kind = "end-to-edge"\nparts = ["strip", "rail"]', ()),
        ('kind = "rebate"\nparts = ["strip"]\nwidth = 6\ndepth = 6', ("rebate j",)),
    ],
)
def test_what_joints_of_a_kind_make(tmp_path: Path, joint: str, made: tuple[str, ...]) -> None:
    """Of a part of theirs, and of no other; of an operation on two parts one may have it."""
    names = (
        *(f"{side} {cut}" for side in ("left", "right", "edge", "far edge") for cut in ("bevel", "mitre")),
        *("level edge", "level far edge", "glued-up panel", "rebate j", "groove j"),
    )
    parts = STRIP + "".join(STRIP.replace("strip", name) for name in ("rail", "leg"))
    tables = parts + f'[[joint]]\nid = "j"\n{joint}\n'
    both = ", ".join(f'"{name}"' for name in names)
    path = written(tmp_path, tables + operation("a", f"registers_on = [{both}]"))
    refused = [name for name in names if name not in made]
    accepted = ", ".join((BOARD, *(f'"{name}"' for name in made)))
    faults = said(path)
    assert [fault.partition(': "')[2].partition('"')[0] for fault in faults] == refused
    assert [fault.partition("\n    accepted: ")[2] for fault in faults] == [
        f'{accepted}, or an operation with makes = ["{name}"]' for name in refused
    ]
    told = ", ".join(f'"leg/{name}"' for name in made)
    if not made:
        return
    faults = said(written(tmp_path, tables + operation("a", f"destroys = [{told}]")))
    assert faults == [
        f'operation "a": destroys names no surface of "leg": "{name}" (did you mean "strip/{name}"?)\n'
        f'    accepted: {BOARD}, or an operation with makes = ["{name}"]'
        for name in made
    ]
    on_two = operation("a", "registers_on = [" + ", ".join(f'"{name}"' for name in made) + "]").replace(
        'part = "strip"', 'parts = ["leg", "strip"]'
    )
    assert load_job(written(tmp_path, tables + on_two)).remarks == ()


def test_what_is_made_of_one_part_is_of_no_other(tmp_path: Path) -> None:
    """Whoever registers on it names the part; lines of notes start from their part's surfaces, and from those of no
    part.
    """
    leg = STRIP.replace("strip", "leg")
    makes = operation("a", 'makes = ["chamfer"]', part="leg") + operation("b", 'makes = ["tongue"]', part="")
    lines = '[[operation.notes.lines]]\nwhat = "x"\npart = "{}"\nstart = "{}"\nacross = "face"\nat = [10]\n'
    right = operation("c", 'registers_on = ["leg/chamfer", "/tongue"]')
    tables = STRIP + leg + makes + right
    assert load_job(
        written(tmp_path, tables + lines.format("leg", "chamfer") + lines.format("strip", "tongue"))
    )
    wrong = operation("d", 'registers_on = ["chamfer", "tongue"]')
    assert said(written(tmp_path, tables + lines.format("strip", "chamfer") + wrong)) == [
        f'operation "c", notes.lines[1]: start names no surface: "chamfer"\n    accepted: {BOARD}, "tongue"',
        'operation "d": registers_on names no surface of "strip": "chamfer" (did you mean "leg/chamfer"?)\n'
        f'    accepted: {BOARD}, or an operation with makes = ["chamfer"]',
        'operation "d": registers_on names no surface of "strip": "tongue" (did you mean "/tongue"?)\n'
        f'    accepted: {BOARD}, or an operation with makes = ["tongue"]',
    ]


@pytest.mark.parametrize(
    ("tables", "shop"),
    [
        (operation("a", 'makes = ["tongue"]\ndestroys = ["{}"]', part=""), ""),  # no boards are listed
        (STRIP + operation("a", 'makes = ["tongue"]\ndestroys = ["/{}"]'), ""),  # of no board
        (STRIP + operation("a", 'makes = ["tongue"]\ndestroys = ["{}"]'), '[rules]\nbooks = ["own.toml"]\n'),
    ],
)
def test_what_may_be_there_without_being_made(tmp_path: Path, tables: str, shop: str) -> None:
    """Only a slip of a known name is refused where a surface may be there, or a rule of the shop's own speak of it."""
    (tmp_path / "own.toml").write_text('[book]\ntitle = "Ours"\n')
    assert load_job(written(tmp_path, tables.replace("{}", "veneer"), shop))
    (fault,) = said(written(tmp_path, tables.replace("{}", "tonuge"), shop))
    assert fault.startswith('operation "a": destroys names no surface: "tonuge" (did you mean "tongue"?)')


@pytest.mark.parametrize(
    "faulty",
    [
        '[[operation]]\nstation = "saw"\nmakes = ["tongue"]\n',
        operation("b", "makes = 3"),
        '[[opertion]]\nid = "b"\n',
        '[[joint]]\nid = "j"\nkind = "groov"\nparts = ["strip"]\n',
    ],
)
def test_what_a_faulty_table_makes_may_be_anything(tmp_path: Path, faulty: str) -> None:
    """No surface is called missing for it."""
    path = written(tmp_path, STRIP + operation("a", 'registers_on = ["tongue"]') + faulty)
    assert not [fault for fault in said(path) if "tongue" in fault]


def test_a_job_begun_is_gone_on_with(tmp_path: Path) -> None:
    """What was planned counts then."""
    path = written(tmp_path, STRIP + operation("a", 'registers_on = ["egde"]'))
    assert load_job(path, begun=True)


def test_likely_slips_are_remarked(tmp_path: Path) -> None:
    """What one operation alone makes or works on may be a new name, but hardly one so like a known one."""
    path = written(
        tmp_path,
        STRIP
        + operation("a", 'makes = ["egde", "tongue"]\nsurface = "bakc"')
        + operation("b", 'surface = "tonge"\nmakes = ["tongue 2", "fore edge"]')
        + operation("c", 'makes = ["rim", "tongue"]\nsurface = "rim"'),
    )
    assert load_job(path).remarks == (
        'operation "a": surface names "bakc", as nobody else does (did you mean "back"?)',
        'operation "a": makes names "egde", as nobody else does (did you mean "edge"?)',
        'operation "b": surface names "tonge", as nobody else does (did you mean "tongue"?)',
    )


@pytest.mark.parametrize(
    ("name", "other", "slip"),
    [
        ("egde", "edge", True),
        ("edg", "edge", True),
        ("eedge", "edge", True),
        ("edgge", "edge", True),
        ("edge", "edges", True),
        ("ege", "edge", True),
        ("edxe", "edge", True),
        ("dege", "edge", True),
        ("wedge", "edge", False),  # other words
        ("adge", "edge", False),
        ("rack", "back", False),
        ("Edge", "edge", True),
        ("far-edge", "far edge", True),
        ("leftend", "left end", True),
        ("lef end", "left end", True),
        ("left edge", "left end", False),
        ("groove 1", "groove 2", False),
        ("edge2", "edge", False),
        ("groove a", "groove b", False),
        ("edge", "edge bevel", False),
        ("upper rebate", "lower rebate", False),
        ("face", "back", False),
        ("", "edge", False),
    ],
)
def test_slips(name: str, other: str, slip: bool) -> None:
    """A letter or so behind the first makes a slip; what tells alike things apart does not, nor does another word."""
    assert is_slip(name, other) is is_slip(other, name) is slip
