"""Saw blades are known by their names (which blade rips and which crosscuts: common practice, no source)."""

from __future__ import annotations

import pytest

from sequencer.joinery import derive

BOARD = '[[part]]\nid = "side"\nlength = 600\nwidth = 200\nthickness = 20\n'


def sized(job, blades):
    """What ripping and crosscutting a board ask of the blade in a shop with these, and what is remarked of blades."""
    loaded = job(
        BOARD + '[[joint]]\nid = "j"\nkind = "groove"\nparts = ["side"]\nfrom = 8\nwidth = 6\ndepth = 5\n'
    )

    def with_blades(setting):
        return setting.model_copy(update={"values": blades}) if setting.id == "blade" else setting

    stations = tuple(
        station.model_copy(update={"settings": tuple(map(with_blades, station.settings))})
        for station in loaded.shop.stations
    )
    made = derive(loaded.model_copy(update={"shop": loaded.shop.model_copy(update={"stations": stations})}))
    asked = {op.kind: op.settings["blade"].any for op in made.operations if op.kind in ("rip", "crosscut")}
    return asked["rip"], asked["crosscut"], [remark for remark in made.remarks if "blade" in remark]


@pytest.mark.parametrize(
    ("blades", "rip", "crosscut"),
    [
        (("rip", "crosscut", "combination"), ("rip", "combination"), ("crosscut", "combination")),
        (("ripping 24", "fine crosscut 60"), ("ripping 24",), ("fine crosscut 60",)),
        (("RIP_24", "Cross-cut 80", "thin cross"), ("RIP_24",), ("Cross-cut 80", "thin cross")),
        (("combination 40",), ("combination 40",), ("combination 40",)),
        ((), ("rip", "combination"), ("crosscut", "combination")),
    ],
)
def test_a_blade_is_known_by_a_word_of_its_name(job, blades, rip, crosscut):
    assert sized(job, blades) == (rip, crosscut, [])


@pytest.mark.parametrize(
    ("blades", "rip", "crosscut", "told"),
    [
        (
            ("fine 60", "ripping 24"),
            ("ripping 24",),
            ("fine 60",),
            'no blade of the saw is named "crosscut" or "combination": these cuts take "fine 60"',
        ),
        (
            ("rip",),
            ("rip",),
            ("rip",),
            'no blade of the saw is named "crosscut" or "combination": these cuts take "rip"',
        ),
        (
            ("triple chip", "fine"),
            ("triple chip", "fine"),
            ("triple chip", "fine"),
            'no blade of the saw is named "rip", "crosscut" or "combination": every cut takes "triple chip" or "fine"',
        ),
        (
            (24.0, 60.0),
            (24.0, 60.0),
            (24.0, 60.0),
            'no blade of the saw is named "rip", "crosscut" or "combination": every cut takes 24 or 60',
        ),
    ],
)
def test_where_no_name_tells_it_is_remarked_once(job, blades, rip, crosscut, told):
    assert sized(job, blades) == (rip, crosscut, [told])
