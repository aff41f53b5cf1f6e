"""Letters that the booklet's faces do not have: on paper they are empty boxes, so whoever prints it is told.

The typesetter is asked itself: its own built-in faces count, too, and nobody else knows what is in these.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from typing import Any

from sequencer.listing import listed
from sequencer.report.booklet import fonts

_PAGE = """
#set page(width: 20mm, height: 20mm)
#set text(font: ("Inter", "DejaVu Sans Mono"))
#json(bytes(sys.inputs.letters)).join(pagebreak())
"""
_NOWHERE = "\ufdd0"
"""No face has this one: it is no character and never will be (The Unicode Standard, section 23.7)."""
_GLYPH = re.compile(rb'href="#(\w+)"')
_UNSEEN = ("Cc", "Cf", "Cs", "Zs", "Zl", "Zp")
_MOST = 8
"""Words and letters that are told one by one."""


def missing_letters(values: dict[str, Any]) -> dict[str, str]:
    """The words of a booklet (`booklet_values`) that cannot be printed whole, each with the letters it lacks."""
    words = dict.fromkeys(word for text in _texts(values) if not text.isascii() for word in text.split())
    lacking = _not_in_faces({letter for word in words for letter in word if not letter.isascii()})
    found: dict[str, str] = {}
    for word in words:
        if letters := "".join(letter for letter in dict.fromkeys(word) if letter in lacking):
            found.setdefault(_bare(word), letters)
    return found


def letters_remark(missing: dict[str, str]) -> str:
    """What is said of these words; nothing where none lacks anything."""
    if not missing:
        return ""
    letters = list(dict.fromkeys("".join(missing.values())))
    return (
        f"the booklet's faces do not have {_some(letters)}, which print as empty boxes (in {_some(list(missing))}); "
        "terminal and web page (--html) show them"
    )


def _some(words: list[str]) -> str:
    return listed([*words[:_MOST], f"{len(words) - _MOST} more"] if len(words) > _MOST else words)


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list | tuple):
        for each in value.values() if isinstance(value, dict) else value:
            yield from _texts(each)


def _bare(word: str) -> str:
    """The word without the signs it stands between in a sentence."""
    ends = [at for at, sign in enumerate(word) if unicodedata.category(sign)[0] != "P"]
    return word[ends[0] : ends[-1] + 1] if ends else word


def _not_in_faces(letters: set[str]) -> set[str]:
    """Those that are set as what stands for no letter at all; one page for each of them."""
    import typst

    asked = sorted(letter for letter in letters if unicodedata.category(letter) not in _UNSEEN)
    if not asked:
        return set()
    pages = typst.compile(
        _PAGE.encode(),
        format="svg",
        font_paths=fonts(),
        sys_inputs={"letters": json.dumps([_NOWHERE, *asked], ensure_ascii=False)},
    )
    assert isinstance(pages, list)
    (box, *drawn) = (set(_GLYPH.findall(page)) for page in pages)
    return {letter for letter, glyphs in zip(asked, drawn, strict=True) if glyphs & box}
