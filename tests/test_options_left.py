"""Options whose mates ask for values with nothing in common: struck out with the values, or refused with them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from sequencer import NoOrderError, load_job, plan
from sequencer.pipeline import prepare

SHOP = """
[shop]
name = "s"
unit = "mm"
[[station]]
id = "saw"
setting = [
    { id = "fence", reset = 1, limits = { min = 0, max = 600 }, keeps = false },
    { id = "height", reset = 1, limits = { min = 0, max = 80 } },
]
"""
DIFFER = (
    'mates hold saw.fence, but "{}" asks for {} mm and "{}" asks for {} mm: no order makes them in one visit'
)
VALUES = DIFFER.format("rip", 100, "groove", 120)
HOLD = '[[mates]]\noperations = ["rip", "groove", "second rip"]\nhold = ["saw.fence"]\n'

Job = Callable[[str], Path]


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """A job of two operations at different fences, a third like the first, and planing; and what is given besides."""

    def write(more: str) -> Path:
        (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
        text = '[job]\nname = "j"\nshop = "shop.toml"\n'
        for name, asks in (
            ("rip", "fence = 100"),
            ("groove", "fence = 120"),
            ("second rip", "fence = 100"),
            ("plane", "height = 3"),
        ):
            text += f'[[operation]]\nid = "{name}"\nstation = "saw"\nsettings = {{ {asks} }}\n'
        (tmp_path / "job.toml").write_text(text + HOLD + more, encoding="utf-8")
        return tmp_path / "job.toml"

    return write


def choice(id: str, **options: str) -> str:
    """A choice with options of operations, named with commas between."""
    named = (f"{name} = {json.dumps(ops.split(','))}" for name, ops in options.items())
    return f'[[choice]]\nid = "{id}"\noptions = {{ {", ".join(named)} }}\n'


def struck(path: Path) -> dict[tuple[str, str], str]:
    """The options that are struck out before anything is ordered, with why."""
    return {(out.joint, out.way): out.why for out in prepare(load_job(path)).worklist.struck_out}


def test_an_option_with_mates_at_odds_is_struck_out(job: Job) -> None:
    """Both of one option, or one of it and one that is made in any case: the option can never be taken."""
    path = job(choice("c", x="rip,groove", y="plane,second rip"))
    assert struck(path) == {("c", "x"): VALUES}
    found = plan(load_job(path))
    assert (found.choices, found.status) == ({"c": "y"}, "optimal")
    assert struck(job(choice("c", x="groove", y="plane"))) == {("c", "x"): VALUES}


def test_what_is_struck_out_bars_others_in_turn(job: Job) -> None:
    """With x struck out, y is certain, and the option of the other choice that disagrees with it goes, too."""
    both = choice("c", x="groove,rip", y="second rip")
    other = choice("d", u="fourth", v="plane")
    fourth = '[[operation]]\nid = "fourth"\nstation = "saw"\nsettings = { fence = 130 }\n'
    more = '[[mates]]\noperations = ["fourth", "second rip"]\nhold = ["saw.fence"]\n'
    assert list(struck(job(fourth + more + both + other))) == [("c", "x"), ("d", "u")]


def test_where_no_option_is_left_the_values_are_told(job: Job) -> None:
    """Refused with the values; of options barred before it is said why they are."""
    with pytest.raises(NoOrderError) as refused:
        prepare(load_job(job(choice("c", x="rip,groove") + choice("d", u="plane", v="second rip"))))
    (fault,) = refused.value.faults
    assert (fault.where, fault.message) == ("mates", VALUES)
    with pytest.raises(NoOrderError) as refused:
        prepare(load_job(job(choice("c", x="rip,groove", y="groove,second rip"))))
    assert [(fault.where, fault.message) for fault in refused.value.faults] == [
        ('choice "c", option "x"', VALUES),
        ('choice "c", option "y"', DIFFER.format("groove", 120, "second rip", 100)),
    ]
    third = '[[operation]]\nid = "late"\nstation = "saw"\nafter = ["late"]\n'
    with pytest.raises(NoOrderError) as refused:
        prepare(load_job(job(third + choice("c", x="rip,groove", y="late"))))
    (fault,) = refused.value.faults
    assert fault.message == VALUES
    assert fault.where.startswith('mates, without option "y" of choice "c" (barred: "late" must come before')


def test_options_of_different_choices_are_left_to_the_engines(job: Job) -> None:
    """Two that are made together in some combinations only strike nothing out: another combination will do."""
    path = job(choice("c", x="rip", y="second rip") + choice("d", u="groove", v="plane"))
    assert not struck(path)
    assert plan(load_job(path)).choices["d"] == "v"
