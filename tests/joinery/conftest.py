"""Jobs written in a test, with the examples' shop."""

from pathlib import Path

import pytest

from sequencer import load_job
from sequencer.diagnostics import InputError
from sequencer.joinery import derive

SHOP = Path(__file__).parents[2] / "examples" / "shop.toml"


@pytest.fixture
def job(tmp_path):
    """A function that loads a job from the text of its parts and joints; `shop` is text added to the shop file."""

    def load(text, shop="", unit="mm", batch=1):
        (tmp_path / "shop.toml").write_text(SHOP.read_text() + shop)
        head = f'[job]\nname = "trial"\nunit = "{unit}"\nshop = "shop.toml"\nbatch = {batch}\n'
        (tmp_path / "job.toml").write_text(head + text)
        return load_job(tmp_path / "job.toml")

    return load


@pytest.fixture
def refused(job):
    """A function that gives the faults for which a job is refused, of its text as `job` takes it."""

    def faults(text, **others):
        with pytest.raises(InputError) as caught:
            derive(job(text, **others))
        return caught.value.faults

    return faults
