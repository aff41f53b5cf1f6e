"""Jobs written in a test, with the examples' shop."""

from pathlib import Path

import pytest

from sequencer import load_job

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
