"""A setting is told by its name for people wherever it is told: in remarks and refusals as on the cards."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest

from sequencer import InputError, load_job, plan
from sequencer.bench.happened import Happened
from sequencer.bench.remainder import replan
from sequencer.cards.setup_cards import cards
from sequencer.joinery import derive
from sequencer.pipeline import prepare
from sequencer.report.terminal import make_console, print_check
from tests.bench.begun_job import SHOP, head, loaded, order
from tests.random_jobs import as_toml

EXAMPLES = Path(__file__).parent.parent / "examples"
NAMED = SHOP.replace('id = "fence"', 'id = "fence"\nname = "rip_fence"')
"""The saw's fence has a name of its own."""


def test_what_mates_hold(tmp_path: Path) -> None:
    """On the card, in a check, and in the remark that one of them is made."""
    at = {"station": "saw", "parts": ["rail"], "quantity": 4, "settings": {"fence": 30}}
    tables = {
        "operation": [{"id": "cut", **at}, {"id": "mate", **at}],
        "mates": [{"operations": ["cut", "mate"], "hold": ["saw.fence"]}],
    }
    job = loaded(tmp_path, head(rail=4) + as_toml(tables), NAMED)
    first = plan(job, time_limit=20)
    assert {line.name for line in cards(first)[0].settings if line.setting == "fence"} == {"rip fence"}
    out = StringIO()
    print_check(prepare(job), make_console(out, 120))
    assert "without moving saw rip fence" in " ".join(out.getvalue().split())
    (said,) = [says for says in replan(job, first, Happened(1), 20).remarks if "prove it" in says]
    assert f'made with rip fence at 30 like "{order(first)[0]}"' in said.replace(" mm", "")


def named_tilt(folder: Path, more: str) -> Path:
    """The planter with more parts and joints, in a shop whose tilt is called the arbor's."""
    shop = (EXAMPLES / "shop.toml").read_text(encoding="utf-8")
    text = (EXAMPLES / "planter" / "job.toml").read_text(encoding="utf-8").replace("../shop", "shop")
    shop = shop.replace('id = "tilt"\n', 'id = "tilt"\nname = "arbor_tilt"\n', 1)
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    (folder / "job.toml").write_text(text + more, encoding="utf-8")
    return folder / "job.toml"


SECOND = """
[[part]]
id = "low side"
quantity = 6
length = 240
width = 120
thickness = 20
[[joint]]
id = "low corner"
kind = "splayed"
parts = ["low side"]
sides = 6
slope = 79.8
"""
"""A planter that leans out a fifth of a degree more."""


def test_values_that_are_kept_apart(tmp_path: Path) -> None:
    """Tilts a fifth of a degree apart are two; so are the gauge's and the mortiser's, which have no other names."""
    remarks = derive(load_job(named_tilt(tmp_path, SECOND))).remarks
    apart = {
        says.split("°")[0].rpartition(" ")[0] for says in remarks if "are two settings, kept apart" in says
    }
    assert apart == {"arbor tilt", "gauge", "fence angle"}


def test_what_is_beyond_reach(tmp_path: Path) -> None:
    """Three upright sides are bevelled at 60 degrees, and the saw tilts no further than 46."""
    with pytest.raises(InputError, match="arbor tilt 60° is beyond the table saw"):
        derive(
            load_job(
                named_tilt(
                    tmp_path,
                    SECOND.replace("sides = 6", "sides = 3")
                    .replace("quantity = 6", "quantity = 3")
                    .replace("79.8", "90"),
                )
            )
        )
