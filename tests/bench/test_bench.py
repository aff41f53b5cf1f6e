"""Where settings stand when a plan is gone on with, and what of the work they still reach: small cases by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequencer import InputError, plan
from sequencer.bench.happened import Happened, told
from sequencer.bench.remainder import replan
from sequencer.bench.standing import standing_shop, still_possible
from sequencer.model.job import Job
from sequencer.operations import Between, OneOf, Operation, Wanted
from tests.bench.begun_job import loaded

SHOP = """
[shop]
name = "Invented bench"
unit = "mm"
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
start = 0
reset = 2
[[station.setting]]
id = "fence"
reset = 1
"""


def job_of(folder: Path, *settings: str, fence: str = "", unit: str = "mm") -> Job:
    """Operations with these settings at the saw, one after the other; `fence`: what the shop says of it besides."""
    text = f'[job]\nname = "j"\nunit = "{unit}"\nshop = "shop.toml"\n'
    for n, each in enumerate(settings, 1):
        after = f'after = ["op{n - 1}"]\n' if n > 1 else ""
        text += f'[[operation]]\nid = "op{n}"\nstation = "saw"\nsettings = {{ {each} }}\n{after}'
    return loaded(folder, text, SHOP + fence)


def test_what_a_visit_loses_is_not_counted_on(tmp_path: Path) -> None:
    """A fence that does not keep its place is set anew once work has begun; before that it stands at its start."""
    job = job_of(tmp_path, "fence = 100", "fence = 100", fence="start = 100\nkeeps = false\n")
    first = plan(job, time_limit=10)
    for done, minutes, begins in ((0, 0, {"saw.tilt": 0, "saw.fence": 100}), (1, 1, {"saw.tilt": 0})):
        rest = replan(job, first, Happened(done), 10)
        assert (rest.reset_minutes, rest.begins) == (minutes, begins)


def test_readings_in_inches_are_gone_on_with(tmp_path: Path) -> None:
    """10 in of a shop in mm stay 10 in, however often the plan is gone on with; so does what a stop is measured at."""
    stop = '[[station.setting]]\nid = "stop"\nmeasured_at = "fence"\nreset = 1\n'
    asked = ("fence = 10, stop = 20",) * 3
    job = job_of(tmp_path, *asked, fence=stop, unit="in")
    rest = replan(job, plan(job, time_limit=10), Happened(1), 10)
    for found in (rest, replan(job, rest, Happened(0), 10), replan(job, rest, Happened(1), 10)):
        assert found.begins == {"saw.tilt": 0, "saw.fence": 10, "saw.stop": 20}
        assert found.begins_at == {"saw.stop": 10}
        assert found.reset_count == 0


def test_where_a_setting_stands_is_told_in_the_unit_of_the_job(tmp_path: Path) -> None:
    """2 of a job in inches are 50.8 mm of the shop."""
    job = job_of(tmp_path, "fence = 10", unit="in")
    happened = told(job, plan(job, time_limit=10), 0, moved=["saw.fence=2"])
    assert happened.moved == {("saw", "fence"): pytest.approx(50.8)}


def test_a_file_that_does_not_say_where_settings_stood(tmp_path: Path) -> None:
    """What its steps find: the fence at 10 in, from where the first moved it. What none of them finds stands at the
    shop's start only if nothing was made before: here the tilt was left at 30."""
    job = job_of(tmp_path, "tilt = 30", "fence = 20", "fence = 10", fence="start = 254\n", unit="in")
    silent = {"begins": None, "begins_at": None}
    first = plan(job, time_limit=10)
    again = replan(job, first.model_copy(update=silent), Happened(0), 10)
    assert again.begins == {"saw.tilt": 0, "saw.fence": 10}
    rest = replan(job, first, Happened(1), 10)
    assert rest.begins == {"saw.tilt": 30, "saw.fence": 10}
    again = replan(job, rest.model_copy(update=silent), Happened(0), 10)
    assert again.begins == {"saw.fence": 10}


def test_what_can_no_longer_be_set_stands_nowhere(tmp_path: Path) -> None:
    """The fence was left at 100; the one that is there now goes to 90."""
    before = job_of(tmp_path, "fence = 100", "fence = 50")
    first = plan(before, time_limit=10)
    now = job_of(tmp_path, "fence = 50", fence="limits = { min = 0, max = 90 }\n")
    for job, start in ((before, 100), (now, None)):
        assert standing_shop(job, first, first.steps[:1], {}).station("saw").setting("fence").start == start


LIMITS = "limits = { min = 10, max = 50 }\n"
VALUES = "values = [5, 6, 8]\n"
MORE = (
    '[[station.setting]]\nid = "gauge"\nreset = 1\nlimits = { max = 45 }\n'
    '[[station.setting]]\nid = "blade"\nreset = 1\nvalues = ["crosscut"]\n'
)


@pytest.mark.parametrize(
    ("fence", "wanted", "left"),
    [
        (LIMITS, Between(min=5, max=40), Between(min=10, max=40)),
        (LIMITS, Between(min=20, max=60), Between(min=20, max=50)),
        (LIMITS, Between(min=51, max=60), None),
        (LIMITS, OneOf(any=(5, 20, 50, 60)), OneOf(any=(20, 50))),
        (LIMITS, OneOf(any=(5, 60)), None),
        (LIMITS, 9.0, None),
        (VALUES, Between(min=7, max=9), Between(min=7, max=9)),
        (VALUES, Between(min=6.5, max=7.5), None),
        (VALUES, OneOf(any=(6, 7)), OneOf(any=(6,))),
        (VALUES, 7.0, None),
    ],
)
def test_what_is_left_of_what_is_asked(
    fence: str, wanted: Wanted, left: Wanted | None, tmp_path: Path
) -> None:
    """Ranges are cut to the limits, values that are not there fall away; where nothing is left, that is told."""
    job = job_of(tmp_path, "tilt = 0", fence=fence)
    asked = Operation(id="rip", kind="rip", station="saw", settings={"fence": wanted})
    if left is None:
        with pytest.raises(InputError, match=r'"rip" asks for .* can no longer be set here'):
            still_possible(job, [asked])
    else:
        (found,) = still_possible(job, [asked])
        assert found.settings == {"fence": left}


@pytest.mark.parametrize(
    ("setting", "wanted", "words"),
    [
        ("fence", 9.0, "9 mm, which"),
        ("fence", Between(min=51, max=60.5), "51 mm to 60.5 mm, which"),
        ("fence", OneOf(any=(5, 60)), "5 mm or 60 mm, which"),
        ("gauge", 50.0, "50°, which"),
        ("blade", "rip", '"rip", which'),
        ("bit", 6.0, "what"),
    ],
)
def test_what_can_no_longer_be_set_is_named(setting: str, wanted: Wanted, words: str, tmp_path: Path) -> None:
    """A broken blade, a limit that is less now: who stands at the bench sees which it is, where no card is at hand.
    Of a setting that is gone nobody knows what its values measure."""
    job = job_of(tmp_path, "tilt = 0", fence=LIMITS + MORE)
    asked = Operation(id="rip", kind="rip", station="saw", settings={setting: wanted})
    with pytest.raises(InputError) as refused:
        still_possible(job, [asked])
    (fault,) = refused.value.faults
    assert fault.message == f'"rip" asks for {words} can no longer be set here'
