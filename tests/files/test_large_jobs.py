"""Reading a job takes as long as it has operations, not as long as their number squared."""

from cProfile import Profile
from pstats import Stats

import pytest

from sequencer import load_job

SHOP = """[shop]
name = "one saw"
[[station]]
id = "saw"
[[station.setting]]
id = "fence"
reset = 1
"""
PART = '[[part]]\nid = "p{0}"\nlength = 300\nwidth = 90\nthickness = 20\n'
OPERATION = (
    '[[operation]]\nid = "op{0}"\nstation = "saw"\nparts = ["p{1}"]\nsettings = {{ fence = 20 }}\n'
    'registers_on = ["p{1}/face"]\nmakes = ["p{1}/cut no {0}"]\n'
)


@pytest.mark.parametrize("listed", [False, True])
def test_twice_the_operations_take_twice_the_work(tmp_path, listed):
    """Counted in calls, so that no other work on the machine matters: whether parts are listed, or those that are
    named; every operation makes a surface of its own, whose name differs from the others' by a number."""
    (tmp_path / "shop.toml").write_text(SHOP)

    def calls(operations):
        parts = operations // 4
        text = '[job]\nname = "many"\nshop = "shop.toml"\n'
        text += "".join(map(PART.format, range(parts))) if listed else ""
        text += "".join(OPERATION.format(k, k % parts) for k in range(operations))
        (tmp_path / "job.toml").write_text(text)
        with Profile() as profile:
            job = load_job(tmp_path / "job.toml")
        assert len(job.operations) == operations
        return Stats(profile).total_calls

    calls(40)  # what is made at first use only
    once, twice, thrice = (calls(operations) for operations in (200, 400, 600))
    assert thrice - twice < 1.2 * (twice - once)
