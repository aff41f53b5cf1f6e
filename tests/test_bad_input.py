"""Every bad input ends in its exact message: file, line, table, key and what is wrong, all at once; and what would be
accepted, where what is wrong does not say it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import sequencer
from sequencer.diagnostics import InputError, NoOrderError
from sequencer.files import load_job
from sequencer.operations import OneOf
from sequencer.pipeline import prepare

SHOP = """\
[shop]
name = "invented"
unit = "mm"
walk = 1
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
start = 0
reset = 4
stops = [{ value = 0, reset = 1 }, { value = 45, reset = 1.5 }]
limits = { min = 0, max = 47 }
tolerance = 0.02
[[station.setting]]
id = "fence"
reset = 1
[[station.setting]]
id = "blade"
values = ["rip", "cross"]
minutes = [[0, 1], [1, 0]]
"""
JOB = """\
[job]
name = "invented"
unit = "mm"
shop = "shop.toml"
[[operation]]
id = "a"
station = "saw"
[[operation]]
id = "b"
station = "saw"
"""
LENGTH = 'a number in the file\'s unit, or text such as "18 mm", "3/4 in", "1 1/2 in", "1-1/2\\""'


def faults(folder: Path, job: str | bytes = JOB, shop: str | None = SHOP, **others: str) -> list[str]:
    """What is said of these files: the message of each fault, its file without the folder."""
    (folder / "job.toml").write_bytes(job if isinstance(job, bytes) else job.encode())
    if shop is not None:
        (folder / "shop.toml").write_text(shop, encoding="utf-8")
    for name, text in others.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        load_job(folder / "job.toml")
    assert refused.value.exit_code == 2
    return [str(fault).replace(f"{folder}/", "") for fault in refused.value.faults]


def test_the_files_used_here_are_sound(tmp_path: Path) -> None:
    """Without a change the two files load, so each message below comes from its change."""
    (tmp_path / "job.toml").write_text(JOB)
    (tmp_path / "shop.toml").write_text(SHOP)
    assert [operation.id for operation in load_job(tmp_path / "job.toml").operations] == ["a", "b"]


IN_THE_JOB = {
    # added to the second operation: the message
    "quantty = 3": 'job.toml:11: operation "b": unknown key "quantty" (did you mean "quantity"?)\n'
    "    accepted: id, station, part, parts, kind, quantity, minutes_each, settings, after, registers_on, makes, "
    "destroys, joint, surface, notes",
    "quantity = 0": 'job.toml:11: operation "b": quantity must be a whole number of at least 1, not 0',
    "quantity = -2": 'job.toml:11: operation "b": quantity must be a whole number of at least 1, not -2',
    "quantity = 2.5": 'job.toml:11: operation "b": quantity must be a whole number of at least 1, not 2.5',
    "quantity = true": 'job.toml:11: operation "b": quantity must be a whole number of at least 1, not true',
    'quantity = "3"': 'job.toml:11: operation "b": quantity must be a whole number of at least 1, not "3"',
    "minutes_each = -1": 'job.toml:11: operation "b": minutes_each must be 0 or more minutes, not -1\n'
    "    accepted: a number of minutes from 0 to 10000000",
    "minutes_each = inf": 'job.toml:11: operation "b": minutes_each must be a finite number of minutes, not inf\n'
    "    accepted: a number of minutes from 0 to 10000000",
    'after = "a"': 'job.toml:11: operation "b": after must be a list, not "a"\n    accepted: ["a"]',
    'after = ["aa"]': 'job.toml:11: operation "b": after names no operation: "aa" (did you mean "a"?)\n'
    '    accepted: "a", "b"',
    "makes = [1]": 'job.toml:11: operation "b": makes[1] must be text, not 1',
    'makes = ["tongue", "tongue", ""]': 'job.toml:11: operation "b": makes[3] must be a line of text, not ""\n'
    "    accepted: text that can be seen",
    'part = ""': 'job.toml:11: operation "b": part must be a line of text, not ""\n'
    "    accepted: text that can be seen",
    "settings = 3": 'job.toml:11: operation "b": settings must be a table, not 3\n'
    "    accepted: { name = ... }",
    "settings.tilt = [0, 45]": 'job.toml:11: operation "b": settings.tilt must be one value, a range or any of '
    "several, not a list\n    accepted: a value, { min = ..., max = ... } or { any = [...] }",
    "after = 5": 'job.toml:11: operation "b": after must be a list, not 5\n    accepted: ["text", ...]',
    'notes = { check = "20 mm" }': 'job.toml:11: operation "b": notes.check must be a table, not "20 mm"\n'
    '    accepted: { measure = "text", expect = "text", tolerance = "text" }',
    'notes = { lines = "2 in" }': 'job.toml:11: operation "b": notes.lines must be a list, not "2 in"\n    accepted: '
    '[{ part = "text", start = "text", across = "text", at = [18, ...], what = "text" }, ...]',
    'notes = { how_to_set = "block" }': 'job.toml:11: operation "b": notes.how_to_set must be a table, not "block"\n'
    '    accepted: { name = "text" }',
    'notes = { cautions = ["gloves"] }': 'job.toml:11: operation "b": notes.cautions[1] must be a table, not '
    '"gloves"\n    accepted: { says = "text", source = "text" }',
    '[[choice]]\nid = "c"\noptions = [["a"], ["b"]]': 'job.toml:13: choice "c": options must be a table, not a list\n'
    '    accepted: { name = ["text", ...] }',
    '[[choice]]\nid = "c"': 'job.toml:11: choice "c": options is missing\n    accepted: { name = ["text", ...] }',
    "settings = { tillt = 3 }": 'job.toml:11: operation "b", settings: saw has no setting "tillt" '
    '(did you mean "tilt"?)\n    accepted: blade, fence, tilt',
    "settings = { tilt = 60 }": 'job.toml:11: operation "b": settings.tilt must be within the limits of tilt, '
    "not 60\n    accepted: an angle in degrees from 0 to 47",
    "settings.tilt = -0.1": 'job.toml:11: operation "b": settings.tilt must be within the limits of tilt, '
    "not -0.1\n    accepted: an angle in degrees from 0 to 47",
    "settings.tilt = { min = 48, max = 60 }": 'job.toml:11: operation "b": settings.tilt must reach into the '
    "limits of tilt\n    accepted: an angle in degrees from 0 to 47",
    "settings.tilt = { min = 5, max = 3 }": 'job.toml:11: operation "b": settings.tilt must not have its min '
    "above its max: 5 is more than 3",
    "settings.tilt = { min = 50 }": 'job.toml:11: operation "b": settings.tilt must reach into the limits of tilt\n'
    "    accepted: an angle in degrees from 0 to 47",
    "settings.tilt = { max = -1 }": 'job.toml:11: operation "b": settings.tilt must reach into the limits of tilt\n'
    "    accepted: an angle in degrees from 0 to 47",
    "settings.fence = { min = 5 }": 'job.toml:11: operation "b", settings: max of fence is missing\n'
    "    accepted: { min = ..., max = ... }, or a max among the limits of fence in the shop file",
    "settings.tilt = { any = [] }": 'job.toml:11: operation "b": settings.tilt.any must be a list of values, '
    "not an empty list\n    accepted: any = [0, 47]",
    "settings.tilt = { any = [90] }": 'job.toml:11: operation "b": settings.tilt.any[1] must be within the '
    "limits of tilt, not 90\n    accepted: an angle in degrees from 0 to 47",
    "settings.tilt = { mn = 3 }": 'job.toml:11: operation "b", settings.tilt: unknown key "mn" '
    '(did you mean "min"?)\n    accepted: a value, { min = ..., max = ... } or { any = [...] }',
    "settings.tilt = 1e16": 'job.toml:11: operation "b": settings.tilt must be an angle a shop can use, not 1e+16\n'
    "    accepted: an angle in degrees from 0 to 47",
    "settings.fence = -4": 'job.toml:11: operation "b": settings.fence must be 0 or more, not -4',
    "settings.fence = nan": 'job.toml:11: operation "b": settings.fence must be a finite length, not nan\n'
    "    accepted: a length of at least 0 mm",
    "settings.fence = true": f'job.toml:11: operation "b": settings.fence must be a length, not true\n'
    f"    accepted: {LENGTH}",
    'settings.fence = "12 mn"': f'job.toml:11: operation "b": settings.fence must be a length, not "12 mn"\n'
    f"    accepted: {LENGTH}",
    "settings.fence = 1000001": 'job.toml:11: operation "b": settings.fence must be a length a shop can hold, '
    "not 1000001\n    accepted: at most 1000000 mm",
    'settings.fence = "39371 in"': 'job.toml:11: operation "b": settings.fence must be a length a shop can hold, '
    'not "39371 in"\n    accepted: at most 1000000 mm',
    'settings.blade = "crss"': 'job.toml:11: operation "b": settings.blade must be one of the values of blade, '
    'not "crss" (did you mean "cross"?)\n    accepted: "rip", "cross"',
    "settings.blade = 3": 'job.toml:11: operation "b": settings.blade must be a name, not 3\n'
    '    accepted: "rip", "cross"',
    "settings.blade = { min = 1, max = 2 }": 'job.toml:11: operation "b": settings.blade must be a name, '
    'not a range: the values of blade are names\n    accepted: "rip", "cross"',
    "notes = { wht = 1 }": 'job.toml:11: operation "b", notes: unknown key "wht" (did you mean "what"?)\n'
    "    accepted: what, fence, table, way_round, lines, check, how_to_set, cautions",
    # what a card would print without words
    'notes = " "': 'job.toml:11: operation "b": notes.what must be text that can be seen, not " "',
    'notes = { fence = "\\t" }': 'job.toml:11: operation "b": notes.fence must be text that can be seen, not "\\t"',
    'notes = { table = "\\u200b" }': 'job.toml:11: operation "b": notes.table must be text that can be seen, '
    'not "\\u200b"',
    'notes = { way_round = " " }': 'job.toml:11: operation "b": notes.way_round must be text that can be seen, not " "',
    'notes = { how_to_set = { tilt = "" } }': 'job.toml:11: operation "b": notes.how_to_set.tilt must be text that can '
    'be seen, not ""',
    'notes = { check = { measure = "", expect = "2", tolerance = "1" } }': 'job.toml:11: operation "b": '
    'notes.check.measure must be text that can be seen, not ""',
    'notes = { check = { measure = "x", expect = " ", tolerance = "1" } }': 'job.toml:11: operation "b": '
    'notes.check.expect must be text that can be seen, not " "',
    'notes = { check = { measure = "x", expect = "2", tolerance = "" } }': 'job.toml:11: operation "b": '
    'notes.check.tolerance must be text that can be seen, not ""',
    'notes = { cautions = [{ says = "", source = "s" }] }': 'job.toml:11: operation "b": notes.cautions[1].says must '
    'be text that can be seen, not ""',
    'notes = { cautions = [{ says = "x", source = "" }] }': 'job.toml:11: operation "b": notes.cautions[1].source must '
    'be text that can be seen, not ""',
    'notes = { lines = [{ part = "p", start = "left end", across = "face", at = [1], what = "" }] }': "job.toml:11: "
    'operation "b": notes.lines[1].what must be text that can be seen, not ""',
    "quantity = = 3": "job.toml:11: not valid TOML (line 11, column 12): this is no value; text needs quotation marks",
    "quantity = 3\nquantity = 4": "job.toml:12: not valid TOML (line 12, column 13): this key is given twice",
    '[[operation]]\nid = "a"\nstation = "saw"': 'job.toml:12: operation "a": id "a" is taken (line 6)\n'
    "    accepted: an id of its own",
    '[[operation]]\nstation = "saw"': "job.toml:11: operation 3: id is missing",
    '[[operation]]\nid = "c"\nstation = "sow"': 'job.toml:13: operation "c": station names no station of the '
    'shop: "sow" (did you mean "saw"?)\n    accepted: "saw"',
    '[[operaton]]\nid = "c"': 'job.toml:11: unknown table "operaton" (did you mean "operation"?)\n'
    "    accepted: job, part, joint, operation, mates, choice",
    '[[mates]]\noperations = ["a", "q"]\nhold = ["saw.tilt"]': "job.toml:12: mates 1: operations names no "
    'operation: "q"\n    accepted: "a", "b"',
    '[[mates]]\noperations = ["a", "b"]\nhold = ["saw.tillt"]': "job.toml:13: mates 1: hold names no setting "
    'of the shop: "saw.tillt" (did you mean "saw.tilt"?)\n    accepted: "saw.blade", "saw.fence", "saw.tilt"',
    '[[mates]]\noperations = []\nhold = ["saw.tilt"]': "job.toml:12: mates 1: operations must have at least "
    "1 entry, not 0",
    '[[mates]]\noperations = ["a", " a"]\nhold = ["saw.tilt"]': "job.toml:12: mates 1: operations must be two "
    'different operations or more, not only "a"\n    accepted: the operations between which nothing in hold is moved',
    '[[choice]]\nid = "c"\noptions = { "" = ["a"] }': 'job.toml:13: choice "c": options must have a name for each, '
    'not ""\n    accepted: text that can be seen',
    '[[choice]]\nid = "c"\noptions = {}': 'job.toml:13: choice "c": options must have at least 1 entry, not 0',
    '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["zz"] }': 'job.toml:13: choice "c", options: y names no '
    'operation: "zz"\n    accepted: "a", "b"',
    '[[choice]]\nid = "c"\noptions = { x = ["a"] }\n[[choice]]\nid = "d"\noptions = { x = ["a"] }': "job.toml:16: "
    'choice "d", options: operation "a" stands in choice "c" already\n'
    "    accepted: each operation in one choice only",
    '[[part]]\nid = "p"\nlength = -3\nwidth = 2\nthickness = 1': 'job.toml:13: part "p": length must be more '
    f"than 0, not -3\n    accepted: more than 0.2 mm, as {LENGTH}",
    '[[part]]\nid = "p"\nlength = 3\nwidth = 0\nthickness = 1': 'job.toml:14: part "p": width must be more '
    f"than 0, not 0\n    accepted: more than 0.2 mm, as {LENGTH}",
    '[[part]]\nid = "p/q"\nlength = 3\nwidth = 1\nthickness = 1': 'job.toml:12: part "p/q": id must not contain '
    '"/": a surface is written "part/surface"',
    '[[part]]\nid = "p"\nlength = 3\nwidth = 1\nthickness = 1\nquantity = true': 'job.toml:16: part "p": '
    "quantity must be a whole number of at least 1, not true",
    '[[part]]\nid = "p\\nq"\nlength = 3\nwidth = 1\nthickness = 1': 'job.toml:12: part "p\nq": id must be a line of '
    'text that can be seen, not with a line end as its letter 2\n    accepted: "p q"',
    'part = "p/q"': 'job.toml:11: operation "b": part must not contain "/": a surface is written "part/surface"',
}


@pytest.mark.parametrize(("added", "message"), IN_THE_JOB.items(), ids=IN_THE_JOB.keys())
def test_in_the_job(tmp_path: Path, added: str, message: str) -> None:
    """One wrong line in the job file gives its one message."""
    assert faults(tmp_path, f"{JOB}{added}\n") == [message]


IN_THE_SHOP = {
    # replaced, by: the message
    ("walk = 1", "walk = -1"): "shop.toml:4: [shop]: walk must be 0 or more minutes, not -1\n"
    "    accepted: a number of minutes from 0 to 10000000",
    ("walk = 1", "wlak = 1"): 'shop.toml:4: [shop]: unknown key "wlak" (did you mean "walk"?)\n'
    "    accepted: name, unit, walk, walks",
    ('unit = "mm"', 'unit = "cm"'): 'shop.toml:3: [shop]: unit must be "mm" or "in", not "cm"',
    (
        "walk = 1",
        'walks = [{ from = "saw", to = "swa", minutes = 1 }]',
    ): 'shop.toml:4: [shop], walks 1: to names no station: "swa" (did you mean "saw"?)\n'
    "    accepted: another station of the shop",
    (
        "walk = 1",
        'walks = [{ from = " saw", to = "saw", minutes = 1 }]',
    ): 'shop.toml:4: [shop], walks 1: from and to must be two stations\n    accepted: "saw"',
    (
        "[[station]]",
        'walks = [{ from = "saw", to = "b ", minutes = 1 }, { from = " saw", to = "b", minutes = 2 }]\n[[station]]\n'
        'id = "b"\n[[station]]',
    ): 'shop.toml:5: [shop], walks 2: the walk from "saw" to "b" is given twice',
    (
        "tolerance = 0.02",
        "tolerance = inf",
    ): 'shop.toml:13: station "saw", setting "tilt": tolerance must be a finite angle, not inf\n'
    '    accepted: a number of degrees, or text such as "22.5 deg"',
    (
        'values = ["rip", "cross"]',
        'values = ["rip", "cross"]\ntolerance = 1',
    ): 'shop.toml:20: station "saw", setting '
    '"blade": a tolerance is for numbers, and this setting\'s values are names',
    (
        "[[station]]",
        "[joinery]\nnear_stop = inf\n[[station]]",
    ): "shop.toml:6: [joinery]: near_stop must be a finite number, not inf",
    (
        "[[station]]",
        "[joinery]\nslip_proportion = inf\n[[station]]",
    ): "shop.toml:6: [joinery]: slip_proportion must be a finite number, not inf",
    ("start = 0", "start = 50"): 'shop.toml:9: station "saw", setting "tilt": start must be within the '
    "setting's limits\n    accepted: an angle in degrees from 0 to 47",
    (
        "value = 45",
        "value = 50",
    ): 'shop.toml:11: station "saw", setting "tilt", stops 2: value must be within '
    "the setting's limits\n    accepted: an angle in degrees from 0 to 47",
    (
        "value = 45",
        "value = 0.01",
    ): 'shop.toml:11: station "saw", setting "tilt", stops 2: stop 2 is no further '
    "from another stop than the tolerance\n    accepted: stops further apart, or a smaller tolerance",
    (
        "min = 0, max = 47",
        "min = 48, max = 47",
    ): 'shop.toml:12: station "saw", setting "tilt": limits must not have its min above its max',
    ("tolerance = 0.02", "tolerance = -1"): 'shop.toml:13: station "saw", setting "tilt": tolerance must be '
    "0 or more",
    (
        "reset = 4",
        "reset = nan",
    ): 'shop.toml:10: station "saw", setting "tilt": reset must be a finite number of minutes, not nan\n'
    "    accepted: a number of minutes from 0 to 10000000",
    (
        '["rip", "cross"]',
        '["rip", "cross"]\nstops = [{ value = "dado", reset = 1 }]',
    ): 'shop.toml:20: station "saw", setting "blade", stops 1: stop 1 is none of the '
    'setting\'s values\n    accepted: "rip", "cross"',
    (
        'id = "fence"\nreset = 1',
        'id = "fence"\nreset = 1\nvalues = [1]\nstops = [{ value = 9, reset = 1 }]',
    ): 'shop.toml:18: station "saw", setting "fence", stops 1: stop 1 is none of the setting\'s values\n'
    "    accepted: 1 mm",
    (
        "[1, 0]]",
        "[1, 0]]\n[joinery.blade_over]\nmin = 9\nmax = 3",
    ): "shop.toml:21: [joinery]: blade_over must not have its min above its max\n"
    "    accepted: a max above the min; left out, they are 3 mm and 8 mm",
    ("reset = 4\n", ""): 'shop.toml:7: station "saw", setting "tilt": reset is missing\n'
    "    accepted: the minutes it takes to move the setting, or a change-over table (values and minutes)",
    ("[1, 0]]", "[1]]"): 'shop.toml:20: station "saw", setting "blade": row 2 of minutes has 1 of 2 columns\n'
    "    accepted: one column for each value",
    ("[[0, 1], [1, 0]]", "[[0, 1]]"): 'shop.toml:20: station "saw", setting "blade": minutes has 1 row for '
    "2 values\n    accepted: 2 rows of 2, one row and one column for each value",
    (
        "[[0, 1], [1, 0]]",
        "{ rip = 1 }",
    ): 'shop.toml:20: station "saw", setting "blade": minutes must be a list of '
    "rows, one row and one column for each value, not a table\n    accepted: [[0, 1], [1, 0]]",
    ("[[0, 1], [1, 0]]", "[0, 1]"): 'shop.toml:20: station "saw", setting "blade": minutes must be a list of '
    "rows, one row and one column for each value, not with 0 as row 1\n    accepted: [[0, 1], [1, 0]]",
    (
        "[[0, 1], [1, 0]]",
        "[[0, 1], 1]",
    ): 'shop.toml:20: station "saw", setting "blade": minutes must be a list of '
    "rows, one row and one column for each value, not with 1 as row 2\n    accepted: [[0, 1], [1, 0]]",
    ("[[0, 1], [1, 0]]", "3"): 'shop.toml:20: station "saw", setting "blade": minutes must be a list of '
    "rows, one row and one column for each value, not 3\n    accepted: [[0, 1], [1, 0]]",
    (
        "[1, 0]]",
        "[1, 0]]\nfirst = 2",
    ): 'shop.toml:21: station "saw", setting "blade": first must be a list of minutes, '
    "one for each value, not 2\n    accepted: [1, 2]",
    (
        'values = ["rip", "cross"]\nminutes = [[0, 1], [1, 0]]',
        'values = ["rip", "cross", "groove", "dado"]\nminutes = 2',
    ): 'shop.toml:20: station "saw", setting "blade": minutes must be a list of rows, one row and one column for each '
    "value, not 2\n    accepted: [[0, 1, ...], [1, 0, ...], ...]",
    ("[1, 0]]", "[-1, 0]]"): 'shop.toml:20: station "saw", setting "blade": minutes[2][1] must be 0 or more '
    "minutes, not -1\n    accepted: a number of minutes from 0 to 10000000",
    (
        "[1, 0]]",
        "[1, 0]]\nfirst = [1]",
    ): 'shop.toml:21: station "saw", setting "blade": first has 1 number for '
    "2 values\n    accepted: one for each value",
    (
        "reset = 1\n",
        "reset = 1\nfirst = [1]\n",
    ): 'shop.toml:17: station "saw", setting "fence": first goes with a change-over table, '
    "and there is no minutes table",
    (
        "[1, 0]]",
        '[1, 0]]\nstart = "rpi"',
    ): 'shop.toml:21: station "saw", setting "blade": start is none of the '
    'setting\'s values\n    accepted: "rip", "cross"',
    (
        "[1, 0]]",
        '[1, 0]]\n[[station]]\nid = "drill.1"',
    ): 'shop.toml:22: station "drill.1": id must not contain ".": a setting that mates hold is written '
    '"station.setting"\n    accepted: "drill-1"',
    (
        '"cross"]',
        '"rip"]',
    ): 'shop.toml:19: station "saw", setting "blade": "rip" is listed twice\n    accepted: each value once',
    (
        'id = "fence"',
        'id = "cutter"\nreset = 1\nvalues = [5, 6, 9]\ntolerance = 1\n[[station.setting]]\nid = "fence"',
    ): 'shop.toml:17: station "saw", setting "cutter": 6 and 5 before it are one setting, by its tolerance\n'
    "    accepted: values farther apart than the tolerance, or a smaller tolerance",
    ("[1, 0]]", "[1, 0]]\nkeeps = 1"): 'shop.toml:21: station "saw", setting "blade": keeps must be true or '
    "false, not 1",
    (
        'id = "fence"',
        'id = "tilt"',
    ): 'shop.toml:15: station "saw", setting "tilt": id "tilt" is taken (line 8)\n'
    "    accepted: an id of its own",
    (
        "[1, 0]]",
        '[1, 0]]\n[[station]]\nid = "saw"',
    ): 'shop.toml:22: station "saw": id "saw" is taken (line 6)\n    accepted: an id of its own',
    (
        "[1, 0]]",
        "[1, 0]]\n[joinery]\nmax_depth = 0",
    ): f"shop.toml:22: [joinery]: max_depth must be more than 0, not 0\n    accepted: more than 0, as {LENGTH}",
    (
        "[1, 0]]",
        '[1, 0]]\n[rules]\nbooks = ["own.toml"]',
    ): 'shop.toml:22: [rules]: there is no rule book "own.toml"\n    accepted: a file beside the shop file',
}


@pytest.mark.parametrize(("change", "message"), IN_THE_SHOP.items(), ids=[str(k) for k in IN_THE_SHOP])
def test_in_the_shop(tmp_path: Path, change: tuple[str, str], message: str) -> None:
    """One wrong line in the shop file gives its one message, and no other about the job that uses it."""
    assert change[0] in SHOP
    assert faults(tmp_path, JOB, SHOP.replace(*change, 1)) == [message]


def test_faults_of_one_setting_come_together(tmp_path: Path) -> None:
    """A negative tolerance or limits the wrong way round hide nothing else that is wrong with the setting."""
    shop = SHOP.replace("tolerance = 0.02", "tolerance = -1").replace("value = 45", "value = 0")
    tilt = 'station "saw", setting "tilt"'
    assert [said.partition("\n")[0] for said in faults(tmp_path, JOB, shop)] == [
        f"shop.toml:11: {tilt}, stops 2: stop 2 is no further from another stop than the tolerance",
        f"shop.toml:13: {tilt}: tolerance must be 0 or more",
    ]
    shop = shop.replace("max = 47", "max = -47")
    assert len(faults(tmp_path, JOB, shop)) == 3


def test_a_joint_of_work_by_hand_that_is_nearly_one_of_the_jobs(tmp_path: Path) -> None:
    """It is remarked; another word, or number, may be a joint made by hand."""
    joint = f'{RAIL}[[joint]]\nid = "corner"\nkind = "frame-mitre"\nparts = ["rail"]\n'
    (tmp_path / "shop.toml").write_text(SHOP)
    for name, hint in {"cornr": True, "corner": False, "corner 2": False, "tongue": False}.items():
        (tmp_path / "job.toml").write_text(f'{JOB}joint = "{name}"\n{joint}')
        says = (
            'operation "b": joint names no joint: "cornr" (did you mean "corner"?), so no rule for operations of one '
            "joint binds it to those of that one"
        )
        assert load_job(tmp_path / "job.toml").remarks == ((says,) if hint else ())


def test_joints(tmp_path: Path) -> None:
    """Joints of no known kind, between parts there are not, or with keys of their own say so at the line."""
    job = (
        JOB + '[[part]]\nid = "front"\nlength = 3\nwidth = 2\nthickness = 1\n'
        '[[joint]]\nid = "j"\nkind = "case-miter"\nparts = ["frot"]\n'
        '[[joint]]\nid = "k"\nkind = "case-mitre"\nparts = []\ncornr = 3\nslips = { count = 0, depths = [1] }\n'
    )
    assert [message.split("\n")[0] for message in faults(tmp_path, job)] == [
        'job.toml:18: joint "j": kind must be a kind that is known, not "case-miter" (did you mean "case-mitre"?)',
        'job.toml:19: joint "j": parts names no part: "frot" (did you mean "front"?)',
        'job.toml:23: joint "k": parts must have at least 1 entry, not 0',
        'job.toml:24: joint "k": unknown key "cornr" (did you mean "corner"?)',
        'job.toml:25: joint "k": slips.count must be at least 1, not 0',
        'job.toml:25: joint "k": slips.depths must have at least 2 entries',
    ]


@pytest.mark.parametrize(
    ("kind", "told"), [('["x"]', "a list"), ("true", "true"), ("{ a = 1 }", "a table"), ("3", "3")]
)
def test_a_kind_that_is_no_text(tmp_path: Path, kind: str, told: str) -> None:
    """It is told as it stands in the file."""
    (said,) = faults(tmp_path, f'{JOB}{RAIL}[[joint]]\nid = "j"\nkind = {kind}\nparts = ["rail"]\n')
    assert said.startswith(f'job.toml:18: joint "j": kind must be a kind that is known, not {told}\n')


def test_entries_that_are_missing_are_counted_together(tmp_path: Path) -> None:
    """A list of two that is empty is one fault."""
    (said,) = faults(tmp_path, f'{JOB}{RAIL}[[joint]]\nid = "j"\nkind = "end-to-edge"\nparts = []\n')
    assert said.startswith('job.toml:19: joint "j": parts must have at least 2 entries\n')


SLIGHT = "must be more than the 0.2 mm that the checks on the cards let a cut be off"
IN_A_JOINT = {
    # in a joint of this kind: the message
    ("splayed", 'level_edges = "yes"'): 'level_edges must be true or false, not "yes"',
    ("splayed", 'level_edges = "off"'): 'level_edges must be true or false, not "off"',
    ("splayed", "level_edges = 1"): "level_edges must be true or false, not 1",
    ("splayed", "sides = 0"): "sides must be 3 or more: 0 sides do not enclose anything",
    ("splayed", "sides = 1"): "sides must be 3 or more: 1 side does not enclose anything",
    ("stave", "sides = 0"): "sides must be 3 or more: 0 sides do not enclose anything",
    ("stave", "sides = -4"): "sides must be 3 or more: -4 sides do not enclose anything",
    ("stave", "slips = { at = [] }"): "slips.at must have at least 1 entry, not 0",
    ("groove", "width = 1e-9"): f"width {SLIGHT}, not 1e-09",
    ("rebate", 'depth = "0.2 mm"'): f'depth {SLIGHT}, not "0.2 mm"',
    ("case-mitre", "slips = { thickness = 0.001 }"): f"slips.thickness {SLIGHT}, not 0.001",
    (
        "rebate",
        'beside = "left"\ndepth = 3',
    ): 'beside must be "edge", "far edge", "left end" or "right end", not "left" (did you mean "left end"?)',
    ("splayed", "corners = []"): "corners must have at least 3 entries, not 0",
    ("splayed", "corners = { a = 90 }"): "corners must be a list, not a table",
    ("splayed", "corners = [{ a = 90 }]"): "corners[1] must be an angle, not a table",
}


@pytest.mark.parametrize(("added", "message"), IN_A_JOINT.items(), ids=[str(k) for k in IN_A_JOINT])
def test_in_a_joint(tmp_path: Path, added: tuple[str, str], message: str) -> None:
    """What is empty, nought or nearly a yes is not taken for left out."""
    kind, line = added
    slope = {
        "splayed": "slope = 80\n",
        "groove": "from = 8\ndepth = 3\n",
        "rebate": "width = 9\n",
    }.get(kind, "")
    job = f'{JOB}{RAIL}[[joint]]\nid = "j"\nkind = "{kind}"\nparts = ["rail"]\n{slope}{line}\n'
    (said,) = faults(tmp_path, job)
    line_number = 20 + slope.count("\n")
    assert said.split("\n")[0] == f'job.toml:{line_number}: joint "j": {message}'


WHOLE = {
    ("quantity = 4.0", 'kind = "stave"\nsides = 4.0\nslips = { count = 2.0 }'): "",
    ("spare = 1.0", 'kind = "edge-to-edge"\nboards = 2.0'): "",
    ("spare = 1.5", 'kind = "stave"'): "spare must be a whole number, not 1.5",
    ("spare = 1001", 'kind = "stave"'): "spare must be at most 1000, not 1001",
    ("spare = true", 'kind = "stave"'): "spare must be a whole number, not true",
    ("quantity = 4", 'kind = "stave"\nsides = 4.5'): "sides must be a whole number, not 4.5",
    ("quantity = 4", 'kind = "stave"\nsides = 101.0'): "sides must be at most 100, not 101",
    ("quantity = 4", 'kind = "stave"\nslips = { count = 201 }'): "slips.count must be at most 200, not 201",
    ("quantity = 4", 'kind = "edge-to-edge"\nboards = 101'): "boards must be at most 100, not 101",
}


@pytest.mark.parametrize(("part", "joint"), WHOLE, ids=[" ".join(each) for each in WHOLE])
def test_whole_numbers_may_have_a_point(tmp_path: Path, part: str, joint: str) -> None:
    """2.0 is 2 wherever pieces are counted, as spreadsheets write it; 2.5 and true are none."""
    job = f'{JOB}[[part]]\nid = "p"\nlength = 500\nwidth = 60\nthickness = 20\n{part}\n[[joint]]\nid = "j"\n'
    job += f'parts = ["p"]\n{joint}\n'
    if says := WHOLE[part, joint]:
        (said,) = faults(tmp_path, job)
        assert said.partition('": ')[2].partition("\n")[0] == says
    else:
        (tmp_path / "shop.toml").write_text(SHOP)
        (tmp_path / "job.toml").write_text(job)
        load_job(tmp_path / "job.toml")


def test_whole_numbers_of_a_cut_list(tmp_path: Path) -> None:
    """In its cells as in tables."""
    rows = "id,length,width,thickness,quantity,spare\np,500,60,20,4.0,1.0\n"
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "job.toml").write_text(JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"'))
    (tmp_path / "cut.csv").write_text(rows)
    (part,) = load_job(tmp_path / "job.toml").parts
    assert (part.quantity, part.spare) == (4, 1)
    wrong = rows.replace("1.0", "1.5")
    (said,) = faults(tmp_path, (tmp_path / "job.toml").read_text(), cut=wrong)
    assert 'spare must be a whole number, not "1.5"' in said


def test_an_empty_list_of_slopes(tmp_path: Path) -> None:
    """A list is accepted there, so that it is called too short, and its entries wrong, but never no angle."""
    ring = f'{JOB}{RAIL}[[joint]]\nid = "j"\nkind = "splayed"\nparts = ["rail"]\nslope = '
    degrees = 'a number of degrees, or text such as "22.5 deg"'
    assert faults(tmp_path, f"{ring}[]\n") == [
        'job.toml:20: joint "j": slope must have at least 1 entry, not 0'
    ]
    assert faults(tmp_path, f'{ring}[80, "x"]\n') == [
        f'job.toml:20: joint "j": slope[2] must be an angle, not "x"\n    accepted: {degrees}'
    ]


def test_what_is_said_to_be_accepted_is(tmp_path: Path) -> None:
    """Every length named in a refusal can be asked for as it stands, in whatever unit the job is: limits are told
    within (50 mm are 1.96850 in, 3 mm 0.11811 in), and a fraction only where it is one (NIST SP 811: 25.4 mm)."""
    station = '[[station]]\nid = "jig"\n[[station.setting]]\nid = "depth"\nreset = 1\n'
    job = '[job]\nshop = "shop.toml"\nunit = "{}"\n[[operation]]\nid = "a"\nstation = "jig"\n'
    job += "settings = {{ depth = {} }}\n"
    for unit, key, shop_unit, told in (
        ("in", "limits = { min = 3, max = 50 }", "mm", "a length from 0.119 in to 1.968 in"),
        ("mm", 'limits = { max = "5/64 in" }', "mm", "a length from 0 mm to 1.984 mm"),  # 1.984375
        ("in", "limits = { min = 0.1, max = 2.5 }", "in", "a length from 0.1 in to 2 1/2 in"),
        ("in", "values = [0.3, 0.25]", "in", "0.3 in, 1/4 in"),
        ("mm", 'values = [8, "1/3 in"]', "mm", "8 mm, 8.466666667 mm"),
    ):
        shop = f'[shop]\nunit = "{shop_unit}"\n{station}{key}\n'
        (said,) = faults(tmp_path, job.format(unit, 900), shop)
        assert said.partition("accepted: ")[2] == told
        for length in re.findall(r"[\d./ ]+ (?:mm|in)", told):
            (tmp_path / "job.toml").write_text(job.format(unit, f'"{length.strip()}"'))
            assert load_job(tmp_path / "job.toml").operations


def test_all_at_once(tmp_path: Path) -> None:
    """Faults of both files come together: those of the job by line, then those of the shop."""
    said = faults(
        tmp_path,
        JOB + 'quantity = 0\nafter = ["z"]\nsettings = { tilt = 60, fence = nan }\n',
        SHOP.replace("walk = 1", "walk = -1"),
    )
    assert [message.split(":")[:2] for message in said] == [
        ["job.toml", "11"],
        ["job.toml", "12"],
        ["job.toml", "13"],
        ["job.toml", "13"],
        ["shop.toml", "4"],
    ]


def test_sound_keys_of_a_faulty_table(tmp_path: Path) -> None:
    """What is wrong with a key alone is told whatever else is wrong in its table."""
    shop = SHOP.replace("reset = 4", 'measures = "x"\nreset = -1').replace("value = 45", "value = true")
    shop = shop.replace("tolerance = 0.02", "tolerance = -1").replace("max = 47", "max = -1")
    where = 'station "saw", setting "tilt"'
    assert [message.partition("\n")[0] for message in faults(tmp_path, shop=shop)] == [
        f'shop.toml:10: {where}: measures must be what the tilt of a saw is, not "x"',
        f"shop.toml:11: {where}: reset must be 0 or more minutes, not -1",
        f"shop.toml:12: {where}, stops 2: value must be an angle, not true",
        f"shop.toml:13: {where}: limits must not have its min above its max",
        f"shop.toml:14: {where}: tolerance must be 0 or more",
    ]


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        (
            'books = ["none.toml"]\nfoo = 1',
            ['[rules]: there is no rule book "none.toml"', '[rules]: unknown key "foo"'],
        ),
        ('books = ["../"]', ['[rules]: "../" is a folder, not a rule book']),
        (
            'off = ["mill-frist"]\nbooks = ["own.toml"]\nfoo = 1',
            ['off: there is no rule "mill-frist"', '[rules]: unknown key "foo"'],
        ),
        # what is wrong may name the books, and these may have the rule
        (
            'off = ["mill-frist"]\nboks = ["own.toml"]',
            ['[rules]: unknown key "boks" (did you mean "books"?)'],
        ),
        ('off = ["mill-frist"]\nbooks = 3', ["[rules]: books must be a list, not 3"]),
        ('off = 3\nbooks = ["none.toml"]', ["[rules]: off must be a list", 'no rule book "none.toml"']),
    ],
)
def test_sound_keys_of_faulty_rules(tmp_path: Path, rules: str, says: list[str]) -> None:
    """Books that are missing and ids that no book has are told beside what else is wrong in `[rules]`."""
    (tmp_path / "own.toml").write_text('[book]\ntitle = "own"\n', encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "shop.toml").write_text(f"{SHOP}[rules]\n{rules}\n", encoding="utf-8")
    with pytest.raises(InputError) as refused:
        sequencer.load_job(tmp_path / "job.toml")
    told = [str(fault) for fault in refused.value.faults]
    assert len(told) == len(says)
    assert all(any(each in one for one in told) for each in says), told


def test_empty_jobs(tmp_path: Path) -> None:
    """A job with nothing to do, without [job], or with nothing at all is refused."""
    assert faults(tmp_path, JOB.split("[[")[0]) == [
        "job.toml: the job is empty\n    accepted: at least one [[operation]], or [[part]] and [[joint]] tables"
    ]
    assert faults(tmp_path, "")[0].startswith("job.toml: the table [job] is missing")


def test_a_head_that_is_wrong_is_one_fault(tmp_path: Path) -> None:
    """A cut list that is no text may well have parts, and a head that is no table may have all that belongs there."""
    head = JOB.split("[[")[0]
    assert faults(tmp_path, f"{head}parts = 5\n") == ["job.toml:5: [job]: parts must be text, not 5"]
    assert faults(tmp_path, f'{head}prts = "cut.csv"\n')[0].startswith(
        'job.toml:5: [job]: unknown key "prts"'
    )
    assert len(faults(tmp_path, f'{head}prts = "cut.csv"\n')) == 1
    (said,) = faults(tmp_path, JOB.replace("[job]", "[[job]]"))
    assert said == "job.toml:1: job must be a table [job]\n    accepted: [job]"
    (said,) = faults(tmp_path, "[[job]]\n")
    assert said == "job.toml:1: job must be a table [job]\n    accepted: [job]"


def test_a_cut_list_without_rows(tmp_path: Path) -> None:
    """A job that has nothing else names it; where its rows are wrong, or it cannot be read, that alone is told."""
    empty = JOB.split("[[")[0].replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    head = "id,length,width,thickness\n"
    assert faults(tmp_path, empty, cut=head) == [
        'job.toml:4: [job]: the job is empty: "cut.csv" has no rows below its heading\n'
        "    accepted: a row for each part, or [[operation]] tables"
    ]
    wrong = faults(tmp_path, empty, cut=f"{head}p,x,20,18\n")
    assert [said.partition("\n")[0] for said in wrong] == [
        "job.toml: the job has parts and nothing to do with them",
        'cut.csv:2: part "p": length must be a length, not "x"',
    ]
    (tmp_path / "cut.csv").unlink()
    (said,) = faults(tmp_path, empty)
    assert "parts names no file that can be read" in said


def test_a_cut_list_parted_by_tabs(tmp_path: Path) -> None:
    """The tabs are told, not each column that is missing for them."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    assert faults(tmp_path, job, cut="id\tlength\twidth\tthickness\np\t3\t2\t1\n") == [
        "cut.csv:1: tabs part no columns\n"
        "    accepted: commas or semicolons: id, quantity, spare, length, width, thickness, species, stock"
    ]


def test_an_id_of_the_job_in_the_cut_list(tmp_path: Path) -> None:
    """The file and line of the first are told."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    job += '[[part]]\nid = "p"\nlength = 3\nwidth = 2\nthickness = 1\n'
    assert faults(tmp_path, job, cut="id,length,width,thickness\np,3,2,1\n") == [
        'cut.csv:2: part "p": id "p" is taken (job.toml, line 13)\n    accepted: an id of its own'
    ]


def test_missing_and_unreadable_files(tmp_path: Path) -> None:
    """A file that is missing, a folder, or no UTF-8 text is named with the key that names it."""
    assert faults(tmp_path, JOB, None)[0].startswith(
        'job.toml:4: [job]: shop names no file that can be read, "shop.toml": there is no such file'
    )
    assert "this is a folder" in faults(tmp_path, JOB.replace("shop.toml", "."))[0]
    assert faults(tmp_path, JOB.encode() + b"# \xff\n")[0].startswith("job.toml:11: this is not UTF-8 text")
    with pytest.raises(InputError, match="there is no such file"):
        load_job(tmp_path / "none.toml")
    with pytest.raises(InputError, match="this is a folder"):
        load_job(tmp_path)


@pytest.mark.parametrize("named", ["shop", "parts", "books"])
def test_names_of_files_that_are_too_long(tmp_path: Path, named: str) -> None:
    """They are told where they are named, as files that are not there."""
    long = "a" * 300 + ".toml"
    job = JOB.replace("shop.toml", long) if named == "shop" else JOB
    job = job.replace('unit = "mm"', f'unit = "mm"\nparts = "{long}"') if named == "parts" else job
    shop = SHOP + f'[rules]\nbooks = ["{long}"]\n' if named == "books" else SHOP
    (said,) = faults(tmp_path, job, shop)
    place = "shop.toml:22: [rules]" if named == "books" else "job.toml:4: [job]"
    assert said.startswith(f"{place}: ")
    assert f'"{"a" * 80}..."' in said.partition("\n")[0]


def test_long_ids_do_not_flood_the_messages(tmp_path: Path) -> None:
    """They are refused, and told without their end, also where they are named in vain."""
    long = "x" * 5000
    job = JOB.replace('id = "b"', f'id = "{long}"') + f'quantity = 0\nafter = ["{long}y"]\npart = "{long}"\n'
    said = faults(tmp_path, job + '[[part]]\nid = "p"\nlength = 3\nwidth = 2\nthickness = 1\n')
    assert said[0].endswith(": id must be at most 200 letters long, not 5000")
    assert any("after names no operation" in each for each in said)
    assert any("part names no part" in each for each in said)
    assert all(len(each) < 500 for each in said)


def test_a_table_given_twice(tmp_path: Path) -> None:
    """It is named as it is written."""
    assert faults(tmp_path, JOB.replace("[[operation]]", "[job]", 1)) == [
        "job.toml:5: not valid TOML (line 5, column 5): the table [job] is given twice"
    ]
    assert faults(tmp_path, JOB, SHOP + "[joinery.pivot]\n[joinery.pivot]\n")[0].endswith(
        "the table [joinery.pivot] is given twice"
    )
    for added, words in {
        "settings = { tilt = 0, tilt = 1 }": "tilt is given twice in this table",
        "settings = { tilt = 0 }\nsettings.tilt = 1": "the table operation.settings is written whole elsewhere; "
        "add to it there",
        "settings.tilt = 0\n[operation.settings]": "the table [operation.settings] is given twice",
    }.items():
        (said,) = faults(tmp_path, f"{JOB}{added}\n")
        assert said.endswith(words)


def test_a_heading_before_that_of_its_table(tmp_path: Path) -> None:
    """It is told where it stands, not the right one after it, whatever tables they are; a key is no heading."""
    head, setting = '[shop]\nname = "s"\n', '[[station.setting]]\nid = "tilt"\nreset = 1\n'
    station = '[[station]] # the saw\nid = "saw"\n'
    assert faults(tmp_path, JOB, head + setting + station)[-1] == (
        "shop.toml:3: not valid TOML (line 3): [[station.setting]] comes before any [[station]] and belongs to none; "
        "put the [[station]] first"
    )
    assert faults(tmp_path, JOB, head + '[station]\nid = "mill"\n' + station)[-1] == (
        "shop.toml:3: not valid TOML (line 3): [station] is [[station]] elsewhere; write [[station]] for each"
    )
    assert faults(tmp_path, JOB, f"{head}{station}[station]\nid = 'mill'\n")[-1] == (
        "shop.toml:5: not valid TOML (line 5): [station] is [[station]] elsewhere; write [[station]] for each"
    )
    assert faults(tmp_path, JOB, f"{head}[[shop]]\nname = 't'\n")[-1] == (
        "shop.toml:3: not valid TOML (line 3): [shop] is there already, and stands once"
    )
    stop = f"{station}[[station.setting.stops]]\nvalue = 1\n{setting}"
    for text, line, words in (
        (f"{head}{stop}", 5, "[[station.setting.stops]] comes before any [[station.setting]] and"),
        (
            f"{head}{SHOP[SHOP.index('[[station]]') :]}{stop}",
            None,
            "[[station.setting.stops]] comes before any",
        ),
        (f"[station.setting]\nid = 'a'\n{station}", 1, "[station.setting] comes before any [[station]] and"),
        (f"station.id = 'saw'\n{station}", 2, "this key is given twice"),
        (f'{head}about = """\n[[station]]"""\nabout = 2\n', 5, "this key is given twice"),
    ):
        said = faults(tmp_path, JOB, text)[-1]
        assert words in said
        assert line is None or said.startswith(f"shop.toml:{line}: ")


def test_operations_that_are_neither_written_nor_derived(tmp_path: Path) -> None:
    """In a job with joints, too, they are told with their key and the operations there are, line by line."""
    joint = (
        RAIL
        + 'stock = "planed"\n'
        + '[[joint]]\nid = "g"\nkind = "groove"\nparts = ["rail"]\nfrom = 5\nwidth = 6\ndepth = 5\n'
    )
    mates = '[[mates]]\noperations = ["a", "rip-rial"]\nhold = ["saw.tilt"]\n'
    choice = '[[choice]]\nid = "c"\noptions = { x = ["b"], y = ["nix"] }\n'
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "job.toml").write_text(JOB + 'after = ["aa"]\n' + mates + joint + choice)
    with pytest.raises(InputError) as refused:
        prepare(load_job(tmp_path / "job.toml"))
    said = [str(fault).replace(f"{tmp_path}/", "").split("\n") for fault in refused.value.faults]
    assert [message for message, _ in said] == [
        'job.toml:11: operation "b": after names no operation: "aa" (did you mean "a"?)',
        'job.toml:13: mates 1: operations names no operation: "rip-rial" (did you mean "rip-rail"?)',
        'job.toml:30: choice "c", options: y names no operation: "nix"',
    ]
    assert all(accepted.startswith('    accepted: "a", "b", "') for _, accepted in said)


def test_rule_books_are_judged_with_the_rest(tmp_path: Path) -> None:
    """Faults of the job, the shop, its rule books and what it switches off come in one go, each with its line."""
    rules = '[rules]\noff = ["width-before-lenght"]\nbooks = ["own.toml", "none.toml"]\n'
    (tmp_path / "shop.toml").write_text(SHOP.replace("walk = 1", "walk = -1") + rules)
    (tmp_path / "job.toml").write_text(JOB + "quantity = 0\n")
    (tmp_path / "own.toml").write_text('[book]\ntitle = "T"\n[[rule]]\nid = "x"\nsays = "S."\n')
    with pytest.raises(InputError) as refused:
        sequencer.load_job(tmp_path / "job.toml")
    said = {f"{Path(fault.file).name}:{fault.line}" for fault in refused.value.faults}
    assert said == {"job.toml:11", "shop.toml:4", "shop.toml:23", "own.toml:3"}
    (tmp_path / "shop.toml").write_text(SHOP + rules.replace(', "none.toml"', ""))
    with pytest.raises(InputError) as refused:
        sequencer.load_job(tmp_path / "job.toml")
    said = {f"{Path(fault.file).name}:{fault.line}" for fault in refused.value.faults}
    assert said == {"job.toml:11", "shop.toml:22", "own.toml:3"}


def test_cut_list(tmp_path: Path) -> None:
    """Wrong cells, columns and doubled ids of the CSV cut list are named with their row's line."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    rows = "id,length,width,thickness,quantity\np,100,20,18,x\nq,abc,20,18,1\nq,1,2,3,4\nr,1,2,3,4,5\ns/t,1,2,3,+-2\n"
    assert [message.split("\n")[0] for message in faults(tmp_path, job, cut=rows)] == [
        'cut.csv:2: part "p": quantity must be a whole number of at least 1, not "x"',
        'cut.csv:3: part "q": length must be a length, not "abc"',
        'cut.csv:4: part "q": id "q" is taken (line 3)',
        'cut.csv:5: part "r": this row has 6 cells for 5 columns',
        'cut.csv:6: part "s/t": id must not contain "/": a surface is written "part/surface"',
        'cut.csv:6: part "s/t": quantity must be a whole number of at least 1, not "+-2"',
    ]
    said = faults(tmp_path, job, cut="id,lenght,width,thickness\np,1,2,3\n")
    assert said[0].startswith('cut.csv:1: unknown column "lenght" (did you mean "length"?)')


def test_control_characters_are_refused_wherever_they_stand(tmp_path: Path) -> None:
    """Terminals obey them, and no page can show them: names, notes, keys, cells; tabs and line ends are sound. What
    names the same thing elsewhere is not complained of besides.
    """
    sound = JOB + 'notes = "left\\tand right\\n"\n'
    job = (
        JOB.replace("invented", "a\\u001b[31m").replace('id = "a"', 'id = "a\\u0000"')
        + 'after = ["a"]\nnotes = { what = "bell\\u0007", cautions = [{ says = "\\u0085", source = "s" }] }\n'
        + '[[choice]]\nid = "c"\noptions = { "x\\u007f" = ["b"] }\n'
    )
    said = [message.split("\n")[0] for message in faults(tmp_path, job)]
    wrong = "must be text without control characters, not with"
    assert said == [
        f'job.toml:2: [job]: name {wrong} "\\x1b" as its letter 2',
        f'job.toml:6: operation "a\0": id {wrong} "\\x00" as its letter 2',
        f'job.toml:12: operation "b": notes.what {wrong} "\\x07" as its letter 5',
        f'job.toml:12: operation "b": notes.cautions[1].says {wrong} "\\x85" as its letter 1',
        f'job.toml:15: choice "c": options.x\x7f {wrong} "\\x7f" as its letter 2',
    ]
    (tmp_path / "job.toml").write_text(sound)
    assert load_job(tmp_path / "job.toml").operations[1].notes.what == "left\tand right\n"
    listed = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    rows = "id,length,width,thickness,species\np,100,20,18,as\x1bh\n"
    assert faults(tmp_path, listed, cut=rows) == [f'cut.csv:2: cell 5 {wrong} "\\x1b" as its letter 3']


def test_spaces_of_other_kinds_are_spaces(tmp_path: Path) -> None:
    """U+00A0, U+2009, U+202F and U+3000 look like the one of the keyboard: what is named with one is found by another,
    in cut lists, too.
    """
    (tmp_path / "shop.toml").write_text(SHOP)
    text = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"').replace(
        'id = "a"', 'id = "a\\u00a0b"'
    )
    text += 'after = ["a b"]\npart = "long\u2009rail"\nregisters_on = ["long\u3000rail/left\u202fend"]\n'
    (tmp_path / "cut.csv").write_text(
        "id,length,width,thickness\nlong\u00a0rail,100,20,18\n", encoding="utf-8"
    )
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    first, last = load_job(tmp_path / "job.toml").operations
    assert (first.id, last.after, last.registers_on) == ("a b", ("a b",), ("long rail/left end",))
    options = '[[choice]]\nid = "c"\noptions = { "x y" = ["a"], "x\\u00a0y" = ["b"] }\n'
    assert 'the key "x y" is given twice\n    accepted: each key once' in faults(tmp_path, JOB + options)[0]


@pytest.mark.parametrize(
    ("written", "told", "accepted"),
    [
        ("Bo\\u00adden", "U+00AD (soft hyphen) as its letter 3", "Boden"),
        ("long\\tpart", "a tab as its letter 5", "long part"),
        ("long\\npart", "a line end as its letter 5", "long part"),
        ("a\\u200bb", "U+200B (zero width space) as its letter 2", "ab"),
        ("a\\ue000", "U+E000 as its letter 2", "a"),
    ],
)
def test_signs_that_cannot_be_seen(tmp_path: Path, written: str, told: str, accepted: str) -> None:
    """In a name it is told which sign it is and where, and what the name would be without it (names of the signs as
    Unicode has them).
    """
    (fault,) = faults(tmp_path, JOB.replace('id = "b"', f'id = "{written}"'))
    says, _, would_do = fault.partition("\n    accepted: ")
    assert says.endswith(f"id must be a line of text that can be seen, not with {told}")
    assert would_do == f'"{accepted}"'


def test_a_plan_for_a_job(tmp_path: Path) -> None:
    """A plan given where a job belongs is told for what it is, with the commands that read it."""
    assert faults(tmp_path, '\n{"schema": "plan/1"}\n') == [
        "job.toml: this is JSON, not TOML: it looks like a plan\n"
        "    accepted: TOML; plans are read by show and replan, and by cards where the name ends in .json"
    ]


def test_a_quotation_mark_left_open_swallows_no_row(tmp_path: Path) -> None:
    """It is told at its own row, and what names that row's part is not complained of; closed ones part nothing."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    named = 'parts = ["p", "q"]\n'
    open_mark = "cut.csv:2: a quotation mark in this row is not closed"
    open_mark += "\n    accepted: each cell on one line, in two of them"
    head = "id,length,width,thickness,species\n"
    assert faults(tmp_path, job + named, cut=head + 'p,100,20,18,"white oak\nq,1,2,3,pine\n') == [open_mark]
    assert faults(tmp_path, job + named, cut=head + 'p,1,2,3,"white\nq,1,2,3,"pine\n')[0] == open_mark
    assert faults(tmp_path, job + named, cut=head + '"p,1,2,3,oak\r\nq,x,2,3,pine\r\n')[0] == open_mark
    (tmp_path / "cut.csv").write_text(head + 'p,"100",20,"3/4""","white, oak"\nq,10",2,"3",\n')
    (tmp_path / "job.toml").write_text(job + named)
    p, q = load_job(tmp_path / "job.toml").parts
    assert (p.thickness, p.species, q.length) == (19.05, "white, oak", 254)
    (tmp_path / "cut.csv").write_text(
        "\nid;length;width;thickness\np;1;2;3\nq;1;2;3\n"
    )  # the headings part by ;
    assert len(load_job(tmp_path / "job.toml").parts) == 2


def test_a_quoted_cell_ends_where_its_mark_does(tmp_path: Path) -> None:
    """Blanks before the comma, and text behind the mark, are read as spreadsheets leave them."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"')
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "job.toml").write_text(job)
    (tmp_path / "cut.csv").write_text(
        'id,length,width,thickness,species\np,"7 3/4 in" ,"100"\t,18,oak\nq,200,100,18,"white" oak\n'
    )
    p, q = load_job(tmp_path / "job.toml").parts
    assert (p.length, p.width, p.species, q.species) == (196.85, 100, "oak", "white oak")


def test_headings_with_an_open_quotation_mark_are_one_fault(tmp_path: Path) -> None:
    """The row below is not taken for the headings, nor complained of."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"') + 'part = "p"\n'
    assert faults(tmp_path, job, cut='\nid,length,"width,thickness\np,1,2,3\n') == [
        "cut.csv:2: a quotation mark in this row is not closed\n    accepted: each cell on one line, in two of them"
    ]


def test_what_the_cut_list_does_not_tell_is_not_complained_of(tmp_path: Path) -> None:
    """One wrong heading, a row without an id or with a cell too many is one fault, not one for each part named."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "cut.csv"') + 'part = "p"\n'
    for rows, message in (
        ("id,length,width,thicknes\np,1,2,3\n", 'cut.csv:1: unknown column "thicknes"'),
        ("id,length,width,thickness\n,1,2,3\n", "cut.csv:2: row without an id: id is missing"),
        ("id,length,width,thickness\n1,p,1,2,3\n", 'cut.csv:2: part "1": this row has 5 cells for 4 columns'),
    ):
        said = [
            each for each in faults(tmp_path, job, cut=rows) if 'column "thickness" is missing' not in each
        ]
        assert len(said) == 1
        assert said[0].startswith(message)
    assert faults(tmp_path, job, cut="id,length,width,thickness,quantity\np,1,2,3,9999999999\n") == [
        'cut.csv:2: part "p": quantity must be at most 1000000, not 9999999999'
    ]


def test_what_the_shop_does_not_tell_is_not_complained_of(tmp_path: Path) -> None:
    """Stations or settings under a misspelt heading, or without an id, are one fault, told where they stand."""
    job = JOB + 'settings = { tilt = 0 }\n[[mates]]\noperations = ["a", "b"]\nhold = ["saw.tilt"]\n'
    walks = SHOP.replace("walk = 1", 'walks = [{ from = "saw", to = "router", minutes = 1 }]')
    said = faults(tmp_path, job, walks.replace("[station", "[stations"))
    assert [each.partition("\n")[0] for each in said] == [
        "shop.toml: the shop has no station",
        'shop.toml:5: unknown table "stations" (did you mean "station"?)',
    ]
    for wrong in (SHOP.replace('id = "saw"', ""), SHOP.replace('id = "tilt"', "")):
        (said_once,) = faults(tmp_path, job, wrong)
        assert "id is missing" in said_once
    for wrong in ("settings", "seting"):
        (said_once,) = faults(tmp_path, job, SHOP.replace("[station.setting]", f"[station.{wrong}]"))
        assert said_once.startswith(f'shop.toml:7: station "saw": unknown key "{wrong}"')
        assert "accepted: [[station.setting]]" in said_once


RULE = (
    '[[rule]]\nid = "glue-last"\nsays = "Glue last."\nwhy = "it sets"\nsource = "common practice, no source"\n'
    'strength = "must"\nsame = "part"\nbefore = { kind = "dye" }\nafter = { kind = "glue" }\n'
)
BOOK = f'[book]\ntitle = "own"\n[kinds]\ndye = "dyed"\n{RULE}'
HALF_TOLD = {
    # what is changed, in which file: the only fault
    "parts": ("job", "[[part]]", "[[parts]]", 'unknown table "parts"'),
    "a part": ("job", '[[part]]\nid = "rail"', "[[part]]", "part 2: id is missing"),
    "an empty part": (
        "job",
        '[[part]]\nid = "rail"',
        '[[part]]\nid = " "',
        'part " ": id must be a line of text',
    ),
    "operations": (
        "job",
        '[[operation]]\nid = "a"',
        '[[operations]]\nid = "a"',
        'unknown table "operations"',
    ),
    "an operation": ("job", '[[operation]]\nid = "a"', "[[operation]]", "operation 1: id is missing"),
    "joints": ("job", "[[joint]]", "[[joints]]", 'unknown table "joints"'),
    "a joint": ("job", '[[joint]]\nid = "slot"', "[[joint]]", "joint 1: id is missing"),
    "stations": (
        "shop",
        '[[station]]\nid = "router',
        '[[stations]]\nid = "router',
        'unknown table "stations"',
    ),
    "settings": (
        "shop",
        '[[station.setting]]\nid = "tilt',
        '[[station.seting]]\nid = "tilt',
        'unknown key "seting"',
    ),
    "rules": ("own", "[[rule]]", "[[rules]]", 'unknown table "rules"'),
    "one rule": ("own", "[[rule]]", "[rule]", "rule must be written [[rule]]"),
    "a rule": ("own", 'id = "glue-last"\n', "", "rule 1: id is missing"),
    "kinds": ("own", "[kinds]", "[kind]", 'unknown table "kind"'),
    "a kind": ("own", 'dye = "dyed"', "dye = 3", "[kinds]: dye must be text"),
}


@pytest.mark.parametrize("change", HALF_TOLD.values(), ids=HALF_TOLD)
def test_what_a_file_half_tells_is_not_complained_of(
    tmp_path: Path, change: tuple[str, str, str, str]
) -> None:
    """A heading misspelt beside good ones, or a table without its id, is one fault, whatever is named of it elsewhere:
    parts, operations, joints, stations, settings, rules and kinds."""
    changed, old, new, message = change
    rest = 'part = "rail"\nafter = ["a", "slot-groove-rail"]\nsettings = { tilt = 0 }\n'
    rest += (
        'notes.lines = [{ part = "rail", start = "groove slot", across = "face", at = [3], what = "x" }]\n'
    )
    mates = '[[mates]]\noperations = ["a", "b"]\nhold = ["saw.tilt"]\n'
    other = RAIL.replace("rail", "post")
    texts = {
        "job": f"{JOB}{rest}{mates}{other}{RAIL}{GROOVE}",
        "shop": SHOP.replace("walk = 1", 'walks = [{ from = "saw", to = "router", minutes = 1 }]')
        + '[[station]]\nid = "router"\n[rules]\nbooks = ["own.toml"]\noff = ["glue-last"]\n',
        "own": BOOK,
    }
    for name, text in texts.items():
        (tmp_path / f"{name}.toml").write_text(text)
    assert len(sequencer.load_job(tmp_path / "job.toml").operations) == 2
    texts[changed] = texts[changed].replace(old, new)
    (tmp_path / f"{changed}.toml").write_text(texts[changed])
    with pytest.raises(InputError) as refused:
        sequencer.load_job(tmp_path / "job.toml")
    said = [fault for fault in refused.value.faults if not fault.message.startswith(f"the table [{changed}]")]
    assert len(said) == 1, refused.value
    assert message in str(said[0])
    assert said[0].file == str(tmp_path / f"{changed}.toml")


def test_operations_half_told_in_a_job_without_joints(tmp_path: Path) -> None:
    """There is nothing they could be derived from, and yet "a" may be what stands under the misspelt heading."""
    mates = 'after = ["a"]\n[[mates]]\noperations = ["a", "b"]\nhold = ["saw.tilt"]\n'
    for old, new in (('[[operation]]\nid = "a"', '[[operations]]\nid = "a"'), ('id = "a"', "")):
        (said,) = faults(tmp_path, (JOB + mates).replace(old, new))
        assert "operations" in said or "id is missing" in said
    (said,) = faults(
        tmp_path, JOB.replace("[[operation]]", "[[operations]]")
    )  # and the job is not called empty
    assert said.startswith('job.toml:5: unknown table "operations" (did you mean "operation"?)')


@pytest.mark.parametrize(
    "head", ['part = "cut.csv"', 'parts = "cut.csv"\nbatch = 0', "parts = 3", 'parts = ""']
)
def test_a_cut_list_in_a_faulty_head(tmp_path: Path, head: str) -> None:
    """Its parts are not called missing where its key is wrong; where it is named it is read, whatever else is wrong."""
    job = JOB.replace('unit = "mm"', f'unit = "mm"\n{head}') + f'part = "p"\n{RAIL}'
    (said,) = faults(tmp_path, job, cut="id,length,width,thickness\np,1,2,3\n")
    assert "[job]" in said
    if "batch" in head:
        assert len(faults(tmp_path, job, cut="id,length,width,thickness\np,x,2,3\n")) == 2


def test_faults_come_in_the_order_of_the_files_and_their_lines(tmp_path: Path) -> None:
    """The job file, the shop file, its rule books, the cut list; each from its first line to its last."""
    job = JOB.replace('unit = "mm"', 'unit = "mm"\nparts = "a.csv"\nbatch = 1000').replace(
        '"b"\nstation = "saw"', '"b"\nstation = "sow"'
    )
    (tmp_path / "job.toml").write_text(job + "quantity = 0\n")
    shop = SHOP.replace("reset = 4", "reset = -4").replace("walk = 1", "walk = -1")
    (tmp_path / "shop.toml").write_text(f'{shop}[rules]\nbooks = ["b.toml"]\noff = ["no-such"]\n')
    (tmp_path / "b.toml").write_text(BOOK.replace("must", "shall"))
    (tmp_path / "a.csv").write_text("id,length,width,thickness,quantity\np,1,2,3,2000\nq,x,2,3,1\n")
    with pytest.raises(InputError) as refused:
        sequencer.load_job(tmp_path / "job.toml")
    said = [f"{Path(fault.file).name}:{fault.line}" for fault in refused.value.faults]
    assert said == [
        *("job.toml:12", "job.toml:13", "shop.toml:4", "shop.toml:10", "shop.toml:23", "b.toml:10"),
        *("a.csv:2", "a.csv:3"),
    ]


def test_parts_named_with_a_surface(tmp_path: Path) -> None:
    """A surface of a part the job does not have is refused as the part itself is, where parts are known."""
    parts = '[[part]]\nid = "rail"\nlength = 3\nwidth = 2\nthickness = 1\n'
    surfaces = 'registers_on = ["q/edge", "rial/edge"]\nsurface = "rial/face"\n'
    assert faults(tmp_path, JOB + surfaces + parts) == [
        'job.toml:11: operation "b": registers_on names no part: "q"\n    accepted: "rail"',
        'job.toml:11: operation "b": registers_on names no part: "rial" (did you mean "rail"?)\n    accepted: "rail"',
        'job.toml:12: operation "b": surface names no part: "rial" (did you mean "rail"?)\n    accepted: "rail"',
    ]
    (tmp_path / "job.toml").write_text(JOB + surfaces)
    assert load_job(tmp_path / "job.toml").operations[1].registers_on == ("q/edge", "rial/edge")


NOTES = {
    # within the notes of an operation that asks for the tilt: the message after the operation
    'how_to_set = { tlt = "by the gauge" }': ', notes.how_to_set: the operation asks for no setting "tlt" '
    '(did you mean "tilt"?)\n    accepted: tilt',
    'lines = [{ part = "ral", start = "left end", across = "face", at = [1], what = "centre" }]': ", "
    'notes.lines[1]: part names no part: "ral" (did you mean "rail"?)\n    accepted: "rail"',
    'lines = [{ part = "rail", start = "left edn", across = "face", at = [1], what = "centre" }]': ", "
    'notes.lines[1]: start names no surface: "left edn" (did you mean "left end"?)\n    accepted: "face", "back", '
    '"edge", "far edge", "left end", "right end", "cheek"',
    'lines = [{ part = "rail", start = "edge", across = "face and bakc", at = [1], what = "centre" }]': ", "
    'notes.lines[1]: across names no surface: "bakc" (did you mean "back"?)\n    accepted: "face", "back", '
    '"edge", "far edge", "left end", "right end", "cheek"',
    'lines = [{ part = "rail", start = "left end", across = "face", at = [300, -10], what = "centre" }]': ": "
    "notes.lines[1].at[2] must lie on the part, not at -10 mm\n    accepted: 0 to 325 mm, from the left end",
    'lines = [{ part = "rail", start = "reference edge", across = "face", at = ["4 in"], what = "centre" }]': ": "
    "notes.lines[1].at[1] must lie on the part, not at 101.6 mm\n    accepted: 0 to 96 mm, from the reference edge",
    'lines = [{ part = "rail", start = "face", across = "edge", at = [], what = "centre" }]': ": "
    "notes.lines[1].at must have at least 1 entry, not 0",
}
# rough, 25 mm longer and 6 mm wider (the allowance that README names)
RAIL = '[[part]]\nid = "rail"\nlength = 300\nwidth = 90\nthickness = 18\n'


@pytest.mark.parametrize(("notes", "message"), NOTES.items(), ids=[str(k) for k in range(len(NOTES))])
def test_notes_speak_of_what_there_is(tmp_path: Path, notes: str, message: str) -> None:
    """Pencil lines lie on a part of the job, from and across its surfaces; settings explained are those asked for."""
    job = f'{JOB}settings = {{ tilt = 0 }}\nmakes = ["rail/cheek"]\nnotes = {{ {notes} }}\n{RAIL}'
    assert faults(tmp_path, job) == [f'job.toml:13: operation "b"{message}']


def test_notes_that_are_sound(tmp_path: Path) -> None:
    """Surfaces as makers write them, made ones, two of them squared across; parts that only operations name."""
    lines = 'lines = [{ part = "rail", start = "cheek", across = "reference face and edge", at = [0, 18], what = "w" }]'
    notes = f'makes = ["cheek"]\npart = "rail"\nnotes = {{ {lines} }}\n'
    (tmp_path / "shop.toml").write_text(SHOP)
    for tables in (RAIL, ""):
        (tmp_path / "job.toml").write_text(JOB + notes + tables)
        assert load_job(tmp_path / "job.toml").operations[1].notes.lines[0].at == (0, 18)
    assert (
        'part names no part: "ral"'
        in faults(tmp_path, JOB + notes.replace('{ part = "rail"', '{ part = "ral"'))[0]
    )


LINE = 'notes.lines = [{{ part = "{}", start = "{}", across = "{}", at = [{}], what = "holes" }}]\n'
PANEL = '[[joint]]\nid = "top"\nkind = "edge-to-edge"\nparts = ["rail"]\nboards = 2\n'
HOPPER = '[[joint]]\nid = "hopper"\nkind = "splayed"\nparts = ["rail"]\nsides = 4\nslope = 75\nlevel_edges = true\n'
GROOVE = '[[joint]]\nid = "slot"\nkind = "groove"\nparts = ["rail"]\nfrom = 8\nwidth = 6\ndepth = 5\n'


@pytest.mark.parametrize(
    ("part", "start", "across", "at", "more"),
    [
        ("rail", "left end", "face", 325, ""),  # on the rough piece
        ("rail", "face", "edge", 22, ""),
        ("rail", "edge", "face", 170, PANEL),  # across a panel of several boards
        (" rail ", " left end", "face ", 3, ""),  # blanks count for nothing, as everywhere
        ("rail", "edge", "glued-up panel", 3, PANEL),
        ("rail", "level edge", "left bevel", 3, HOPPER),
        ("rail", "groove slot", "face", 3, GROOVE),
        ("rail", "left end", "tongue and shoulder", 3, 'makes = ["tongue and shoulder"]\n'),
        ("rail", "left end", "tongue and shoulder", 3, 'makes = ["tongue", "shoulder"]\n'),
    ],
)
def test_lines_that_are_sound(
    tmp_path: Path, part: str, start: str, across: str, at: float, more: str
) -> None:
    """Where a maker may well mark a part out, and from surfaces that steps derived from joints make."""
    (tmp_path / "shop.toml").write_text(SHOP)
    own, tables = (more, "") if more.startswith("makes") else ("", more)
    job = JOB + own + LINE.format(part, start, across, at) + RAIL + tables
    (tmp_path / "job.toml").write_text(job)
    (line,) = load_job(tmp_path / "job.toml").operations[1].notes.lines
    assert (line.part, line.start, line.across) == ("rail", start.strip(), across.strip())


def test_lines_beyond_a_part(tmp_path: Path) -> None:
    """Not on the rough piece either, nor along the boards of a panel; what is sized has its size."""
    for at, told, tables in (
        (326, "0 to 325 mm", RAIL),
        (326, "0 to 325 mm", RAIL + PANEL),
        (301, "0 to 300 mm", RAIL + 'stock = "sized"\n'),
    ):
        (said,) = faults(tmp_path, JOB + LINE.format("rail", "left end", "face", at) + tables)
        assert said.endswith(f"not at {at} mm\n    accepted: {told}, from the left end")


def test_part_names_without_part_tables(tmp_path: Path) -> None:
    """Blanks around a part that only operations name are no part of its name."""
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "job.toml").write_text(JOB + 'part = "p "\n' + LINE.format("p", "left end", "face", 3))
    assert load_job(tmp_path / "job.toml").operations[1].notes.lines[0].part == "p"


def test_option_beyond_the_limits_falls_away(tmp_path: Path) -> None:
    """An option that asks for what the saw cannot reach is struck out with the figures; with no other, exit 3."""
    beyond = JOB + "settings = { tilt = 60 }\n"
    (tmp_path / "shop.toml").write_text(SHOP)
    path = tmp_path / "job.toml"
    path.write_text(beyond + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n')
    job = load_job(path)
    assert [operation.id for operation in job.operations] == ["a"]
    assert dict(job.choices[0].options) == {"x": ("a",)}
    assert (job.struck_out[0].joint, job.struck_out[0].way) == ("c", "y")
    assert "not 60" in job.struck_out[0].why
    path.write_text(beyond + '[[choice]]\nid = "c"\noptions = { y = ["b"] }\n')
    with pytest.raises(NoOrderError, match="no option of this choice can be made") as impossible:
        load_job(path)
    assert impossible.value.exit_code == 3


@pytest.mark.parametrize("asked", ["{ min = 2 }", "{ min = 2, max = 3 }"])
def test_a_range_beyond_the_limits_falls_away_open_or_not(tmp_path: Path, asked: str) -> None:
    """2 in are 50.8 mm, and the fence goes to 40: whether its maker wrote the other end or left it open."""
    limited = SHOP.replace('id = "fence"', 'id = "fence"\nlimits = { max = 40 }')
    (tmp_path / "shop.toml").write_text(limited)
    job = JOB.replace('unit = "mm"', 'unit = "in"') + f"settings.fence = {asked}\n"
    (tmp_path / "job.toml").write_text(job + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n')
    (struck,) = load_job(tmp_path / "job.toml").struck_out
    assert struck.way == "y"
    assert "settings.fence must reach into the limits of fence" in struck.why
    (said,) = faults(tmp_path, job, limited)
    assert said.endswith("must reach into the limits of fence\n    accepted: a length from 0 in to 1.574 in")


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ('"dado"', 'must be one of the values of blade, not "dado"'),
        ('{ any = ["dado"] }', 'must be one of the values of blade, not "dado"'),
    ],
)
def test_option_that_asks_for_what_is_not_listed_falls_away(tmp_path: Path, asked: str, told: str) -> None:
    """A blade taken out of the shop's list strikes out the option that asks for it; else it is refused."""
    missing = f"{JOB}settings = {{ blade = {asked} }}\n"
    (tmp_path / "shop.toml").write_text(SHOP)
    path = tmp_path / "job.toml"
    path.write_text(missing + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n')
    job = load_job(path)
    assert [operation.id for operation in job.operations] == ["a"]
    assert told in job.struck_out[0].why
    path.write_text(missing + '[[choice]]\nid = "c"\noptions = { y = ["b"] }\n')
    with pytest.raises(NoOrderError, match="no option of this choice can be made"):
        load_job(path)
    (said,) = faults(tmp_path, missing)
    assert f'{told}\n    accepted: "rip", "cross"' in said
    path.write_text(
        missing.replace(asked, "3") + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n'
    )
    with pytest.raises(
        InputError, match="must be a name, not 3"
    ):  # of the wrong kind: no setting of any shop
        load_job(path)


def test_range_without_a_listed_value_falls_away(tmp_path: Path) -> None:
    """Of numbers that are listed none lies in the range: beyond reach, as a range beyond the limits is."""
    listed = SHOP.replace('id = "fence"', 'id = "speed"\nvalues = [500, 1000]')
    (tmp_path / "shop.toml").write_text(listed)
    job = JOB + "settings = { speed = { min = 1500, max = 2500 } }\n"
    (tmp_path / "job.toml").write_text(job + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n')
    assert "none of speed lies in this range" in load_job(tmp_path / "job.toml").struck_out[0].why
    (said,) = faults(tmp_path, job, listed)
    assert "none of speed lies in this range\n    accepted: 500, 1000" in said


@pytest.mark.parametrize("choice", ["", '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n'])
def test_what_can_be_reached_of_any_stays(tmp_path: Path, choice: str) -> None:
    """Of the values that will do those the shop has are asked for; each of the others is remarked once, for all the
    operations that would take it, and the option of a choice stays."""
    (tmp_path / "shop.toml").write_text(SHOP)
    asked = (
        'settings.tilt = { any = [90, 45, 3] }\nsettings.blade = { any = ["rip", "corss"] }\n',
        'settings.tilt = { any = [45, 90] }\nsettings.blade = { any = ["cross"] }\n',
    )
    first, second = JOB.removesuffix('[[operation]]\nid = "b"\nstation = "saw"\n'), JOB[JOB.rindex("[[") :]
    (tmp_path / "job.toml").write_text(first + asked[0] + second + asked[1] + choice)
    job = load_job(tmp_path / "job.toml")
    assert [operation.settings for operation in job.operations] == [
        {"tilt": OneOf(any=(45.0, 3.0)), "blade": OneOf(any=("rip",))},
        {"tilt": OneOf(any=(45.0,)), "blade": OneOf(any=("cross",))},
    ]
    assert not job.struck_out
    assert sequencer.plan(job).remarks == (
        "saw.tilt must be within the limits of tilt, not 90: left out of what will do for "
        '"a", "b"; accepted: an angle in degrees from 0 to 47',
        'saw.blade must be one of the values of blade, not "corss" (did you mean "cross"?): left out of what '
        'will do for "a"; accepted: "rip", "cross"',
    )
    assert not load_job(tmp_path / "job.toml", begun=True).remarks


def test_of_an_option_struck_out_no_value_is_remarked(tmp_path: Path) -> None:
    """What is never made is told by why it is not; a value of the wrong kind among others is refused as ever."""
    asked = JOB + 'settings.tilt = 60\nsettings.blade = { any = ["rip", "dado"] }\n'
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "job.toml").write_text(asked + '[[choice]]\nid = "c"\noptions = { x = ["a"], y = ["b"] }\n')
    job = load_job(tmp_path / "job.toml")
    assert [(each.way, job.remarks) for each in job.struck_out] == [("y", ())]
    (said,) = faults(tmp_path, JOB + 'settings.blade = { any = ["rip", 3, "dado"] }\n')
    assert "settings.blade.any[2] must be a name, not 3" in said
