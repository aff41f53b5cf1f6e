"""Settings that derived operations know by name measure what they do there, whatever the shop file leaves out."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequencer.diagnostics import InputError
from sequencer.files import load_job
from sequencer.files.shop_file import read_shop
from sequencer.model.shop import Shop

STATIONS = {
    "mill": ("thickness",),
    "saw": ("tilt", "gauge", "fence", "stop", "height", "blade"),
    "mortiser": ("cutter", "slot_length", "fence_angle", "fence_height", "depth"),
    "router": ("bit", "fence", "height"),
}
ANGLES = {"tilt", "gauge", "fence_angle"}


def _setting(id: str, more: str = "") -> str:
    return f'[[station.setting]]\nid = "{id}"\nreset = 1\n{more}'


def _shop(folder: Path, stations: str, unit: str = "mm") -> Path:
    path = folder / "shop.toml"
    path.write_text(f'[shop]\nunit = "{unit}"\n{stations}')
    return path


def load_shop(path: Path) -> Shop:
    """The shop of a file alone; raises InputError with its faults."""
    read = read_shop(path)
    if read.source.faults:
        raise InputError(read.source.faults)
    return read.finished()


def _refused(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        load_shop(path)
    return [str(fault).replace(f"{path.parent}/", "") for fault in caught.value.faults]


def test_left_out_they_measure_by_their_role(tmp_path: Path) -> None:
    """Angles, lengths, a name for the blade; a role counts as the id does, limits and tolerances change nothing."""
    text = "".join(
        f'[[station]]\nid = "my {role}"\nrole = "{role.title()}"\n'
        + "".join(
            _setting(id, "" if id == "blade" else "tolerance = 0.1\nlimits = { max = 90 }\n") for id in ids
        )
        for role, ids in STATIONS.items()
    )
    shop = load_shop(_shop(tmp_path, text))
    found = {(st.role, setting.id): setting.measures for st in shop.stations for setting in st.settings}
    assert found == {
        (role.title(), id): "angle" if id in ANGLES else "name" if id == "blade" else "length"
        for role, ids in STATIONS.items()
        for id in ids
    }


def test_numbers_listed_are_lengths_in_the_shops_unit(tmp_path: Path) -> None:
    """A quarter inch is 6.35 mm, for cutters and for bits that are numbers; bits may be names instead."""
    cutters = '[[station]]\nid = "mortiser"\n' + _setting("cutter", "values = [0.25, 0.375]\n")
    bits = '[[station]]\nid = "router"\n' + _setting("bit", "values = [0.25]\n")
    shop = load_shop(_shop(tmp_path, cutters + bits, "in"))
    assert shop.station("mortiser").setting("cutter").values == (6.35, 9.525)
    assert shop.station("router").setting("bit").values == (6.35,)
    shop = load_shop(
        _shop(tmp_path, '[[station]]\nid = "router"\n' + _setting("bit", 'values = ["straight-6"]\n'))
    )
    assert shop.station("router").setting("bit").measures == "name"


@pytest.mark.parametrize(
    ("station", "setting", "wrong", "right"),
    [
        ("mill", "thickness", "name", "length"),
        ("saw", "tilt", "length", "angle"),
        ("saw", "fence", "angle", "length"),
        ("mortiser", "cutter", "number", "length"),
        ("router", "bit", "angle", 'length", "name'),
    ],
)
def test_another_measure_is_refused(
    tmp_path: Path, station: str, setting: str, wrong: str, right: str
) -> None:
    """Told with the file, the line, the station and the setting."""
    path = _shop(tmp_path, f'[[station]]\nid = "{station}"\n' + _setting(setting, f'measures = "{wrong}"\n'))
    assert _refused(path) == [
        f'shop.toml:8: station "{station}", setting "{setting}": measures must be what the {setting} of a {station} '
        f'is, not "{wrong}"\n    accepted: "{right}"'
    ]
    other = path.read_text().replace(f'id = "{station}"', f'id = "{station}"\nrole = "stall"')
    path.write_text(other)  # what is no such station may measure as it likes
    assert load_shop(path).stations[0].settings[0].measures == wrong


@pytest.mark.parametrize(
    ("measures", "shown"),
    [("[]", "a list"), ("0", "0"), ('""', '""'), ("{}", "a table"), ("false", "false"), ('"angl"', '"angl"')],
)
def test_measures_that_are_nothing(tmp_path: Path, measures: str, shown: str) -> None:
    """Empty is not left out, and says nothing against the readings; of a known setting only what it may measure is
    named as accepted, for the nearest word ("angle") would be refused in its turn."""
    setting = _setting("fence", f'measures = {measures}\nstart = "18 mm"\n')
    assert _refused(_shop(tmp_path, f'[[station]]\nid = "saw"\n{setting}')) == [
        f'shop.toml:8: station "saw", setting "fence": measures must be what the fence of a saw is, not {shown}\n'
        '    accepted: "length"'
    ]
    (said,) = _refused(_shop(tmp_path, f'[[station]]\nid = "bandsaw"\n{setting}'))
    assert said.startswith(
        'shop.toml:8: station "bandsaw", setting "fence": measures must be "length", "angle"'
    )


@pytest.mark.parametrize("station", ["saw", "swivel"])
def test_a_wrong_start_is_blamed_itself(tmp_path: Path, station: str) -> None:
    """A misspelt angle among numbers makes no names of the stops."""
    text = f'[[station]]\nid = "{station}"\n' + _setting(
        "tilt", 'start = "0 dg"\nstops = [{ value = 0, reset = 1 }]\n'
    )
    (said,) = _refused(_shop(tmp_path, text))
    assert said.startswith(
        f'shop.toml:8: station "{station}", setting "tilt": start must be an angle, not "0 dg"'
    )


@pytest.mark.parametrize("second", ['id = "Saw"', 'id = "old"\nrole = "saw"'])
def test_one_station_of_each_role(tmp_path: Path, second: str) -> None:
    """Which of two saws a derived cut is made at, nobody could tell."""
    path = _shop(tmp_path, f'[[station]]\nid = "saw"\n[[station]]\n{second}\n')
    (said,) = _refused(path)
    assert 'station "saw" is the shop\'s saw already' in said
    path.write_text(path.read_text().replace(second, 'id = "old"\nrole = "second saw"'))
    assert len(load_shop(path).stations) == 2


def _stops(folder: Path, station: str, more: str = "", gauge: str = "", id: str = "gauge") -> dict[str, str]:
    text = f'[[station]]\nid = "{station}"\n' + _setting("stop", more) + _setting(id, gauge)
    (read,) = load_shop(_shop(folder, text)).stations
    return {setting.id: setting.measured_at for setting in read.settings}


def test_a_saws_stop_is_measured_at_its_gauge(tmp_path: Path) -> None:
    """Where it has one, and its file says nothing else; at other stations nothing is."""
    assert _stops(tmp_path, "saw") == {"stop": "gauge", "gauge": ""}
    assert _stops(tmp_path, "my saw") == {"stop": "", "gauge": ""}
    assert _stops(tmp_path, "saw", id="tilt") == {"stop": "", "tilt": ""}
    assert _stops(tmp_path, "saw", 'measured_at = ""\n') == {"stop": "", "gauge": ""}
    assert _stops(tmp_path, "shear", 'measured_at = " gauge "\n') == {"stop": "gauge", "gauge": ""}
    assert _stops(tmp_path, "mortiser", id="fence_angle") == {"stop": "", "fence_angle": ""}


@pytest.mark.parametrize(
    ("stop", "gauge", "says", "accepted"),
    [
        ('"gage"', '""', 'measured_at names no setting of shear: "gage" (did you mean "gauge"?)', '"gauge"'),
        ('"stop"', '""', "measured_at must be another setting than this one itself", '"gauge"'),
        ("3", '""', "measured_at must be text, not 3", ""),
        ('["gauge"]', '""', "measured_at must be text", ""),
    ],
)
def test_what_no_setting_can_be_measured_at(
    stop: str, gauge: str, says: str, accepted: str, tmp_path: Path
) -> None:
    """The fault is told at the very key."""
    more = (f"measured_at = {stop}\n", f"measured_at = {gauge}\n")
    text = '[[station]]\nid = "shear"\n' + _setting("stop", more[0]) + _setting("gauge", more[1])
    (said,) = _refused(_shop(tmp_path, text))
    assert said.startswith(f'shop.toml:8: station "shear", setting "stop": {says}')
    assert said.endswith(f"accepted: {accepted}" if accepted else "")


def test_what_is_measured_at_another_setting_carries_no_third(tmp_path: Path) -> None:
    """Neither in a circle nor in a row; a saw's stop carries itself on, as its file does not say otherwise."""
    text = '[[station]]\nid = "shear"\n' + _setting("stop", 'measured_at = "gauge"\n')
    said = _refused(_shop(tmp_path, text + _setting("gauge", 'measured_at = "stop"\n')))
    assert [each.split(": ", 2)[2].partition("\n")[0] for each in said] == [
        "measured_at must be a setting that stands for itself: gauge is measured at stop",
        "measured_at must be a setting that stands for itself: stop is measured at gauge",
    ]
    row = '[[station]]\nid = "saw"\n' + _setting("stop") + _setting("gauge", 'measured_at = "tilt"\n')
    (one,) = _refused(_shop(tmp_path, row + _setting("tilt")))
    assert "measured_at must be a setting that stands for itself: gauge is measured at tilt" in one


def test_a_setting_without_a_name_may_be_the_one_that_is_meant(tmp_path: Path) -> None:
    """What is missing is told, and nothing else for it."""
    text = '[[station]]\nid = "shear"\n' + _setting("stop", 'measured_at = "gauge"\n')
    (said,) = _refused(_shop(tmp_path, text + "[[station.setting]]\nreset = 1\n"))
    assert "id is missing" in said


@pytest.mark.parametrize(
    ("station", "setting", "low", "high", "why"),
    [
        # how far such a thing can stand by what it is measured from: common practice, no source
        ("saw", "tilt", -90, 90, "from vertical, and at 90 the blade lies flat"),
        ("saw", "gauge", -90, 90, "from a square crosscut, and at 90 it points along the blade"),
        ("mortiser", "fence_angle", 0, 180, "between fence and base, and at 180 they lie in line"),
    ],
)
def test_known_angles_have_bounds(
    tmp_path: Path, station: str, setting: str, low: int, high: int, why: str
) -> None:
    """Limits, start, stops, values and what a job asks; limits that are narrower stay, at other stations all goes."""
    accepted = f"\n    accepted: an angle in degrees from {low} to {high}"

    def shop(more: str, role: str = station) -> Path:
        return _shop(tmp_path, f'[[station]]\nid = "{station}"\nrole = "{role}"\n' + _setting(setting, more))

    head = f'shop.toml:9: station "{station}", setting "{setting}"'
    assert _refused(shop(f'limits = {{ min = {low - 1}, max = "720 deg" }}\n')) == [
        f"{head}: limits.{key} must be {low} to {high}, not {given}: the {setting} of a {station} is "
        f"measured {why}\n    accepted: {low} to {high}"
        for key, given in (("min", low - 1), ("max", '"720 deg"'))
    ]
    for more, place in (
        (f"start = {high + 1}\n", ": start"),
        (f"stops = [{{ value = {low - 400}, reset = 1 }}]\n", ", stops 1: value"),
        ("values = [90, 1e9]\n", ": values[2]"),
    ):
        assert _refused(shop(more)) == [f"{head}{place} must be within the setting's limits{accepted}"]
        assert load_shop(shop(more, "lathe"))
    assert load_shop(shop("limits = { max = 46 }\n")).stations[0].settings[0].limits.max == 46
    job = tmp_path / "job.toml"
    for asked in (high + 1, low - 1, 1e9, f"{{ any = [{high + 1}] }}"):
        job.write_text(
            '[job]\nshop = "shop.toml"\n[[operation]]\n'
            f'id = "a"\nstation = "{station}"\nsettings.{setting} = {asked}\n'
        )
        shop("")
        with pytest.raises(InputError, match=f"must be within the limits of {setting}"):
            load_job(job)
        shop("", "lathe")
        assert load_job(job)
