"""Files broken in any way end in faults told in words, never in another error."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.diagnostics import SequencerError
from sequencer.files import load_job

DATA = Path(__file__).parent / "data" / "formats"
JOB = (DATA / "job.toml").read_text(encoding="utf-8")
SHOP = (DATA / "shop.toml").read_text(encoding="utf-8")
PIECES = [
    "",
    "=",
    "[",
    "]]",
    "{",
    "}",
    '"',
    "nan",
    "-1",
    "0",
    "true",
    "[]",
    "{}",
    "3",
    '"x"',
    "[[1]]",
    "\n",
    "id = 3\n",
]


def _said(job: Path) -> list[str]:
    """The faults of a job, none where it loads; any other error comes through."""
    try:
        load_job(job)
    except SequencerError as error:
        return [str(fault) for fault in error.faults]
    return []


@settings(max_examples=150, deadline=None)
@given(
    in_job=st.booleans(),
    at=st.floats(0, 1),
    length=st.integers(0, 12),
    piece=st.one_of(st.sampled_from(PIECES), st.text(max_size=4)),
)
def test_broken_anywhere(in_job: bool, at: float, length: int, piece: str) -> None:
    """With any few characters replaced, the job loads or is refused with faults that each name a file."""
    text = JOB if in_job else SHOP
    start = int(at * len(text))
    broken = text[:start] + piece + text[start + length :]
    with tempfile.TemporaryDirectory() as folder:
        job, shop = Path(folder) / "job.toml", Path(folder) / "shop.toml"
        job.write_text(broken if in_job else JOB, encoding="utf-8")
        shop.write_text(SHOP if in_job else broken, encoding="utf-8")
        messages = _said(job)
    assert all(folder in message and "Input should" not in message for message in messages)


WRONG = st.recursive(
    st.one_of(st.booleans(), st.integers(-3, 3), st.floats(), st.text(max_size=3)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=2), st.dictionaries(st.text(max_size=3), inner, max_size=2)
    ),
    max_leaves=4,
)


def _toml(value: object) -> str:
    """A value as TOML text."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_toml(key)} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(char):08X}" for char in value) + '"'
    return repr(value)


LINES = [
    (name, number)
    for name, text in (("job", JOB), ("shop", SHOP))
    for number, line in enumerate(text.splitlines())
    if "=" in line and not line.startswith("[")
]


@settings(max_examples=150, deadline=None)
@given(line=st.sampled_from(LINES), value=WRONG)
def test_any_value_anywhere(line: tuple[str, int], value: object) -> None:
    """Whatever value a key is given, the job loads or is refused in words, at a line of a file."""
    name, number = line
    files = {"job": JOB.splitlines(), "shop": SHOP.splitlines()}
    files[name][number] = files[name][number].split("=")[0] + "= " + _toml(value)
    with tempfile.TemporaryDirectory() as folder:
        for each, lines in files.items():
            (Path(folder) / f"{each}.toml").write_text("\n".join(lines), encoding="utf-8")
        messages = _said(Path(folder) / "job.toml")
    assert all(folder in message for message in messages)
    assert not any("Input should" in message or "not what is wanted" in message for message in messages)
