"""What is said of letters that the booklet's faces do not have."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from sequencer.cli import main
from sequencer.report.booklet import booklet_values, set_booklet
from sequencer.report.letters import letters_remark, missing_letters
from tests.sample_plans import two_shelves


def printed_boxes(pdf: bytes) -> bool:
    """Whether glyph 0 of a face is printed anywhere: the one for a letter it does not have (OpenType 1.9, cmap)."""
    for page in PdfReader(io.BytesIO(pdf)).pages:
        for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
            shown = operands[0] if operator == b"TJ" else operands if operator == b"Tj" else ()
            for raw in (piece.original_bytes for piece in shown if hasattr(piece, "original_bytes")):
                if any(raw[at : at + 2] == b"\0\0" for at in range(0, len(raw), 2)):
                    return True
    return False


@pytest.mark.parametrize(
    ("name", "lacks"),
    [
        ("Kästchen «außen» naïve Ⅷ ½", {}),
        ("боковая стенка, Ξύλο αχλαδιάς", {}),
        ("底板 links (側板)", {"底板": "底板", "側板": "側板"}),
        ("lid 板板 \U0001f600", {"板板": "板", "\U0001f600": "\U0001f600"}),
        ("e\u0301\u200d\ufe0f\u00a0\u00ad", {}),
    ],
)
def test_letters_that_print_as_boxes_are_told(name: str, lacks: dict[str, str]) -> None:
    """Exactly where the PDF has a glyph for no letter at all, words and letters are named."""
    values = booklet_values(two_shelves().model_copy(update={"job": name}))
    assert missing_letters(values) == lacks
    assert printed_boxes(set_booklet(values)) is bool(lacks)
    assert bool(letters_remark(lacks)) is bool(lacks)


def test_many_words_are_told_in_short() -> None:
    """Eight words and letters are named, the others counted."""
    says = letters_remark({chr(0x4E00 + n): chr(0x4E00 + n) for n in range(12)})
    assert says.count("\u4e07") == 2
    assert says.count("\u4e08") == 0
    assert says.count("and 4 more") == 2


def test_a_booklet_that_lacks_letters_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The remark stands on standard error, the exit code is 0, and the booklet is written."""
    plan = two_shelves().model_copy(update={"job": "底板"})
    (tmp_path / "plan.json").write_text(plan.model_dump_json(), encoding="utf-8")
    assert main(["cards", str(tmp_path / "plan.json"), "-o", str(tmp_path / "made.pdf")]) == 0
    out, err = capsys.readouterr()
    assert out.strip() == str(tmp_path / "made.pdf")
    assert err == f"remark: {letters_remark({'底板': '底板'})}\n"
    assert "底 and 板" in err
    assert "in 底板" in err
    assert (tmp_path / "made.pdf").read_bytes().startswith(b"%PDF")
