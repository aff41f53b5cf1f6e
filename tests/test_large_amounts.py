"""Amounts that are each accepted, and together more than anybody makes: told in words, or planned to the last place."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sequencer.diagnostics import InputError
from sequencer.encoding.encode import dearest
from sequencer.files import load_job
from sequencer.pipeline import _in_hundredths, order, prepare
from sequencer.solve.problem import Lot, Problem, Progress, Wish

SHOP = """\
[shop]
[[station]]
id = "bench"
[[station.setting]]
id = "jig"
values = ["a", "b"]
reset = {reset}
"""


def _job(folder: Path, operations: str, batch: int = 1, reset: str = "1") -> Path:
    (folder / "shop.toml").write_text(SHOP.format(reset=reset))
    path = folder / "job.toml"
    path.write_text(f'[job]\nshop = "shop.toml"\nbatch = {batch}\n{operations}')
    return path


def _chain(steps: int, minutes: str = "0") -> str:
    """Operations in one fixed order, each of which asks for the other value."""
    return "".join(
        f'[[operation]]\nid = "o{k}"\nstation = "bench"\nminutes_each = {minutes}\n'
        f'settings.jig = "{"ab"[k % 2]}"\nafter = {[f"o{k - 1}"] if k else []}\n'
        for k in range(steps)
    )


def test_more_pieces_than_can_be_counted(tmp_path: Path) -> None:
    """A quantity and a batch are limited together, at the table, of operations, parts and rows of a cut list alike."""
    operation = '[[operation]]\nid = "a"\nstation = "bench"\nquantity = 1001\n'
    part = '[[part]]\nid = "p"\nquantity = 2000\nlength = 9\nwidth = 9\nthickness = 9\n'
    path = _job(tmp_path, f'parts = "cut.csv"\n{operation}{part}', batch=1000)
    (tmp_path / "cut.csv").write_text("id,length,width,thickness,quantity\nq,9,9,9,1000\nr,9,9,9,1000000\n")
    with pytest.raises(InputError) as caught:
        load_job(path)
    accepted = "    accepted: at most 1000000 pieces in the whole batch"
    assert [str(fault).replace(f"{tmp_path}/", "") for fault in caught.value.faults] == [
        'job.toml:8: operation "a": a quantity of 1001 in a batch of 1000 makes 1001000 pieces\n' + accepted,
        'job.toml:11: part "p": a quantity of 2000 in a batch of 1000 makes 2000000 pieces\n' + accepted,
        'cut.csv:3: part "r": a quantity of 1000000 in a batch of 1000 makes 1000000000 pieces\n' + accepted,
    ]


def test_spares_are_counted_with_the_pieces(tmp_path: Path) -> None:
    """Four of each in 250000 and three more: a million and three, of the part and of what takes all its pieces."""
    tables = '[[operation]]\nid = "a"\nstation = "bench"\nquantity = 4\npart = "p"\n'
    tables += '[[part]]\nid = "p"\nquantity = 4\nspare = 3\nlength = 9\nwidth = 9\nthickness = 9\n'
    with pytest.raises(InputError) as caught:
        load_job(_job(tmp_path, tables, batch=250000))
    message = "a quantity of 4 in a batch of 250000, with 3 spare, makes 1000003 pieces"
    assert [fault.message for fault in caught.value.faults] == [message, message]
    made = load_job(_job(tmp_path, tables, batch=249999))
    assert made.operations[0].quantity == 4 * 249999 + 3


def test_more_work_than_a_lifetime(tmp_path: Path) -> None:
    """Two steps of six million minutes: twelve million."""
    with pytest.raises(InputError, match="comes to 12000000 minutes, more than a lifetime"):
        prepare(load_job(_job(tmp_path, _chain(2, "6e6"))))


def test_resets_that_no_engine_could_add_up(tmp_path: Path) -> None:
    """Two hundred resets of ten million minutes, told to a billionth, are more than 64 bits hold."""
    prepared = prepare(load_job(_job(tmp_path, _chain(200, "1e-9"), reset="9999999.123456789")))
    with pytest.raises(InputError, match="too large to be added up"):
        order(prepared, 5)


def test_large_sums_are_recounted(tmp_path: Path) -> None:
    """A hundred resets of ten million minutes round in their last places when they are added up, and are no fault."""
    plan = order(prepare(load_job(_job(tmp_path, _chain(100, "0.1"), reset="9999998.7"))), 20)
    assert plan.status == "optimal"
    assert plan.cost_minutes == pytest.approx(100 * 9999998.7 + 10, abs=1e-3)


@pytest.mark.parametrize(
    ("best", "bound", "told"), [(165, 156, (2, 1)), (165, 165, (2, 2)), (200, 100, (2, 1))]
)
def test_news_of_the_search_never_promises_more_than_is_so(
    best: int, bound: int, told: tuple[int, int]
) -> None:
    """In ten-thousandths of a minute a plan of 1.65 hundredths is told as 2, a bound of 1.56 as 1; one that is reached
    as what it is."""
    encoded: Any = SimpleNamespace(minutes=lambda cost: cost / 10_000)
    heard: list[Progress] = []
    relay = _in_hundredths(encoded, heard.append)
    assert relay is not None
    relay(Progress(0.0, best, bound))
    assert [(each.best, each.bound) for each in heard] == [told]


def test_the_dearest_order_counts_every_preference() -> None:
    """Work of 3 and 4 at one machine, nothing to set, and a preference at 5 that may be broken: 12."""
    lots = (Lot("one", 0, {}, 3), Lot("two", 0, {}, 4))
    assert dearest(Problem(lots, (), ((0,),), (), wishes=(Wish(0, 1, 5),))) == 12
