"""What a sound job file becomes: the published format, field by field."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sequencer.diagnostics import InputError
from sequencer.files import load_job
from sequencer.operations import Between, OneOf, Operation, StruckOut, Worklist

DATA = Path(__file__).parent / "data" / "formats"


def test_operations_of_the_published_format() -> None:
    """Ranges, lists, names, surfaces and the batch arrive as the format says."""
    job = load_job(DATA / "job.toml")
    assert (job.name, job.unit, job.batch, job.shop.name) == (
        "Eight tea boxes",
        "mm",
        8,
        "Bench by the river",
    )
    assert job.operations[1] == Operation(
        id="rip-front",
        station="saw",
        parts=("front",),
        quantity=16,
        minutes_each=0.5,
        settings={
            "tilt": 0.0,
            "fence": 120.0,
            "height": Between(min=21, max=28),
            "blade": OneOf(any=("rip", "combination")),
        },
        after=("mill-front",),
        registers_on=("front/edge",),
        makes=("front/far edge",),
    )
    assert job.operations[2].settings == job.operations[3].settings  # 3/8 in is 9.525 mm
    assert job.mates[0].hold == ("mortiser.fence_height", "mortiser.fence_angle")
    assert dict(job.choices[0].options) == {
        "square_first": ("mortise-front", "bevel-late"),
        "bevel_first": ("bevel-early",),
    }


def test_shop_of_the_published_format() -> None:
    """What settings measure is told from ids and values, and from the job where the shop tells nothing."""
    job = load_job(DATA / "job.toml")
    measures = {s.id: s.measures for station in job.shop.stations for s in station.settings}
    assert measures == {
        "tilt": "angle",
        "fence": "length",
        "height": "length",
        "blade": "name",
        "fence_height": "length",
        "fence_angle": "angle",
        "bit": "name",
        "clamping": "name",
    }
    assert job.shop.walk_minutes("saw", "mortiser") == 0.5
    assert job.shop.walk_minutes("mortiser", "saw") == 1.0
    assert job.shop.walk_minutes("saw", "saw") == 0.0
    assert not job.shop.station("router").setting("clamping").keeps


def test_what_a_move_costs() -> None:
    """Nothing within tolerance; a stop's minutes at a stop; by the table, and `first`, where there is one."""
    shop = load_job(DATA / "job.toml").shop
    tilt, bit = shop.station("saw").setting("tilt"), shop.station("router").setting("bit")
    assert [tilt.move_minutes(0, to) for to in (0.02, 0.021, 45, 45.01, 44.9, 0)] == [0, 4, 1.5, 1.5, 4, 0]
    assert [tilt.move_minutes(None, to) for to in (0, 20)] == [1, 4]
    assert bit.move_minutes("straight-12", "round-4") == 4
    assert bit.move_minutes("round-4", "straight-6") == 3
    assert bit.move_minutes(None, "round-4") == 2
    with pytest.raises(ValueError, match="no value round-5"):
        bit.move_minutes("round-4", "round-5")


def _files(folder: Path, job: str, shop: str) -> Path:
    (folder / "shop.toml").write_text(shop)
    (folder / "job.toml").write_text(job)
    return folder / "job.toml"


def test_a_job_in_inches_in_a_shop_in_mm(tmp_path: Path) -> None:
    """Each file is read in its own unit; inside all is mm."""
    path = _files(
        tmp_path,
        '[job]\nunit = "in"\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "saw"\n'
        'settings.fence = 4.5\nsettings."height" = { min = "1 1/2 in", max = "50 mm" }\n',
        '[shop]\nunit = "mm"\n[[station]]\nid = "saw"\n[[station.setting]]\nid = "fence"\nreset = 1\n'
        'limits = { max = "20 in" }\n'
        '[[station.setting]]\nid = "height"\nreset = 1\nlimits = { min = 0, max = 45 }\n',
    )
    job = load_job(path)
    assert job.operations[0].settings == {"fence": 114.3, "height": Between(min=38.1, max=45.0)}
    assert job.shop.station("saw").setting("fence").greatest == 508
    assert job.name == "job"


def test_listed_numbers_catch_what_is_within_tolerance(tmp_path: Path) -> None:
    """A number near a listed one becomes the listed one; a range becomes the listed numbers in it."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "m"\nsettings = { cutter = 6.01 }\n'
        '[[operation]]\nid = "b"\nstation = "m"\nsettings = { cutter = { min = 5, max = 9 } }\n',
        '[shop]\n[[station]]\nid = "m"\n[[station.setting]]\nid = "cutter"\nvalues = [6, 8, 10]\n'
        "tolerance = 0.05\nminutes = [[0, 2, 2], [2, 0, 2], [2, 2, 0]]\n",
    )
    first, second = load_job(path).operations
    assert first.settings == {"cutter": 6.0}
    assert second.settings == {"cutter": OneOf(any=(6.0, 8.0))}


def test_cut_list_and_tables_join(tmp_path: Path) -> None:
    """Parts come from the tables and from the cut list, with commas or semicolons, in the job's unit."""
    path = _files(
        tmp_path,
        '[job]\nunit = "in"\nshop = "shop.toml"\nparts = "cut.csv"\n[[part]]\nid = "p"\nlength = 10\n'
        'width = 4\nthickness = "3/4 in"\n[[operation]]\nid = "a"\nstation = "saw"\npart = "q"\n',
        '[shop]\n[[station]]\nid = "saw"\n',
    )
    for mark in ",;":
        (tmp_path / "cut.csv").write_text(
            f"id{mark}length{mark}width{mark}thickness\nq{mark}10{mark}2{mark}18 mm\n"
        )
        job = load_job(path)
        assert [Path(file).name for file in job.files] == ["job.toml", "shop.toml", "cut.csv"]
        parts = job.parts
        assert [(part.id, part.length, part.thickness) for part in parts] == [
            ("p", 254, 19.05),
            ("q", 254, 18),
        ]


def test_surfaces_by_their_other_names(tmp_path: Path) -> None:
    """The reference edge and face are the edge and the face, with their part or without, one surface each."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "saw"\npart = "p"\n'
        'registers_on = ["reference edge", "edge", "q/reference edge", "q / edge"]\n'
        'makes = ["q/reference face"]\nsurface = "p/reference face"\n',
        '[shop]\n[[station]]\nid = "saw"\n',
    )
    operation = load_job(path).operations[0]
    assert operation.registers_on == ("p/edge", "q/edge")
    assert (operation.makes, operation.surface) == (("q/face",), "p/face")


def test_parts_are_named_as_all_else_is(tmp_path: Path) -> None:
    """Spaces round a name are no part of it, in the part's own table as where it is named."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[part]]\nid = " p "\nlength = 300\nwidth = 80\nthickness = 18\n'
        'quantity = 2.0\n[[joint]]\nid = " g "\nkind = "groove"\nparts = [" p"]\nfrom = 8\nwidth = 6\ndepth = 6\n',
        '[shop]\n[[station]]\nid = "saw"\n',
    )
    job = load_job(path)
    assert [(part.id, part.quantity) for part in job.parts] == [("p", 2)]
    assert [(joint.id, joint.parts) for joint in job.joints] == [("g", ("p",))]


def test_operations_may_follow_derived_ones(tmp_path: Path) -> None:
    """Beside joints, `after` may name what is derived; the names are checked once that is known."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[part]]\nid = "p"\nlength = 300\nwidth = 80\nthickness = 18\n[[joint]]\n'
        'id = "g"\nkind = "groove"\nparts = ["p"]\nfrom = 8\nwidth = 6\ndepth = 6\n[[operation]]\nid = "a"\n'
        'station = "saw"\nafter = ["groove-p"]\n',
        '[shop]\n[[station]]\nid = "saw"\n',
    )
    job = load_job(path)
    job.check_references(_derived("groove-p"))
    with pytest.raises(InputError, match=r'job.toml:18: operation "a": after names no operation: "groove-p"'):
        job.check_references(_derived("groove-q"))
    with pytest.raises(InputError, match="derived from the parts and joints already"):
        job.check_references(_derived("groove-p", "a"))


def _derived(*ids: str) -> Worklist:
    return Worklist(operations=tuple(Operation(id=id, station="saw") for id in ids))


def test_what_a_struck_out_way_would_have_derived_is_ignored(tmp_path: Path) -> None:
    """In `after` and in mates an operation of a way struck out may be named; in an option of a choice it may not."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[part]]\nid = "p"\nlength = 300\nwidth = 80\nthickness = 18\nquantity = 4\n'
        '[[joint]]\nid = "Box corner"\nkind = "case-mitre"\nparts = ["p"]\n'
        '[[operation]]\nid = "a"\nstation = "saw"\nafter = ["box-corner-bevel-first-plunge-p"]\n'
        '[[mates]]\noperations = ["a", "box-corner-bevel-first-plunge-p"]\nhold = ["saw.tilt"]\n',
        '[shop]\n[[station]]\nid = "saw"\n[[station.setting]]\nid = "tilt"\nreset = 1\n',
    )
    struck = StruckOut(joint="Box corner", way="bevel-first", why="too thin")
    load_job(path).check_references(Worklist(operations=(), struck_out=(struck,)))
    with pytest.raises(InputError) as refused:
        load_job(path).check_references(Worklist(operations=()))
    assert len(refused.value.faults) == 2
    choice = '[[choice]]\nid = "c"\noptions = { x = ["box-corner-bevel-first-plunge-p"] }\n'
    path.write_text(path.read_text() + choice)
    with pytest.raises(InputError, match=r"job\.toml:22: choice") as refused:
        load_job(path).check_references(Worklist(operations=(), struck_out=(struck,)))
    assert len(refused.value.faults) == 1


def test_a_file_name_that_is_no_text(tmp_path: Path) -> None:
    """A job named by its file alone has a name that can be written, whatever bytes the file's name has."""
    path = _files(
        tmp_path,
        '[job]\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "saw"\n',
        '[shop]\n[[station]]\nid = "saw"\n',
    )
    try:
        path = path.rename(os.fsdecode(os.fsencode(tmp_path) + b"/h\xff.toml"))
    except OSError:
        pytest.skip("this file system takes UTF-8 names only")
    assert load_job(path).name == "h\ufffd"


@pytest.mark.parametrize(
    ("setting", "asked", "measures", "value"),
    [
        ("", "0.25", "length", 6.35),
        ("", '"8 mm"', "length", 8.0),
        ("", '"cove-1/4"', "name", "cove-1/4"),
        ("values = [0.25, 0.375]\n", "0.375", "length", 9.525),
        ("limits = { max = 2 }\n", "0.25", "length", 6.35),
        ('values = ["straight 1/4", "cove 1/4"]\n', '"cove 1/4"', "name", "cove 1/4"),
    ],
)
def test_the_number_of_a_bit_is_its_width(
    tmp_path: Path, setting: str, asked: str, measures: str, value: object
) -> None:
    """In an inch shop 0.25 is 1/4 in (6.35 mm), whether or not the shop lists its bits; names stay names."""
    station = '[[station]]\nid = "router"\n[[station.setting]]\nid = "bit"\nreset = 1\n'
    (tmp_path / "shop.toml").write_text(f'[shop]\nunit = "in"\n{station}{setting}')
    operation = f'[[operation]]\nid = "a"\nstation = "router"\nsettings = {{ bit = {asked} }}\n'
    (tmp_path / "job.toml").write_text(f'[job]\nshop = "shop.toml"\n{operation}')
    job = load_job(tmp_path / "job.toml")
    assert job.shop.station("router").setting("bit").measures == measures
    assert job.operations[0].settings["bit"] == pytest.approx(value)


def test_the_examples_of_the_readme_load(tmp_path: Path) -> None:
    """An operation with all its notes, mates and a choice, as README writes them."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (example,) = [text for text in readme.split("```toml\n")[1:] if text.startswith("[[operation]]")]
    shop = '[shop]\n[[station]]\nid = "saw"\n'
    shop += "".join(f'[[station.setting]]\nid = "{id}"\nreset = 1\n' for id in ("tilt", "height", "blade"))
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    others = "".join(
        f'[[operation]]\nid = "{id}"\nstation = "saw"\n'
        for id in ("rip strips", "turn", "turn fine", "carve")
    )
    text = f'[job]\nshop = "shop.toml"\n{example.split("```")[0]}{others}'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    job = load_job(tmp_path / "job.toml")
    notes = job.operations[0].notes
    assert all(getattr(notes, key) for key in type(notes).model_fields)
    assert notes.lines[0].at == (50.0, 114.3)
    assert job.choices[0].options == {"turned": ("turn", "turn fine"), "carved": ("carve",)}
