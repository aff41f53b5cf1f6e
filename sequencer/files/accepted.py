"""What a key takes where a list or a table belongs, written as it stands in the file, from the model alone."""

from __future__ import annotations

import types
import typing
from typing import Any

from pydantic import BaseModel

from sequencer.model.fields import Place

_PLAIN = {bool: "true", int: "2", float: "18", str: '"text"'}


def taken(model: Any, place: Place) -> str:
    """An example of the list or table that belongs at a place in `model`; empty where something plain does.

    >>> from sequencer.model.job import ChoiceTable
    >>> taken(ChoiceTable, ("options",)), taken(ChoiceTable, ("id",))
    ('{ name = ["text", ...] }', '')
    """
    found = [model]
    for step in place:
        found = [inner for each in found for inner in _inside(each, step)]
    if not any(typing.get_origin(each) in (dict, tuple, list) or fields_of(each) for each in found):
        return ""
    return " or ".join(dict.fromkeys(map(_example, found)))


def fields_of(kind: Any) -> dict[str, Any]:
    """The keys of a table as the file writes them, with what each takes; not those that a file leaves out."""
    if not (isinstance(kind, type) and issubclass(kind, BaseModel)):
        return {}
    return {
        field.alias or name: field.annotation
        for name, field in kind.model_fields.items()
        if not field.exclude
    }


def _kinds(annotation: Any) -> list[Any]:
    """What may stand where the annotation does: the members of a union, without what is said besides."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _kinds(typing.get_args(annotation)[0])
    if origin in (typing.Union, types.UnionType):
        return [kind for each in typing.get_args(annotation) for kind in _kinds(each)]
    return [] if annotation is type(None) else [annotation]


def _inside(annotation: Any, step: str | int) -> list[Any]:
    """What may stand under a key or at a position of what the annotation describes."""
    found = []
    for kind in _kinds(annotation):
        origin, within = typing.get_origin(kind), typing.get_args(kind)
        if isinstance(step, str):
            entry = within[1] if origin is dict else fields_of(kind).get(step)
        else:
            entry = _entry(within, step) if origin in (tuple, list) else None
        found += [] if entry is None else _kinds(entry)
    return found


def _entry(within: tuple[Any, ...], position: int) -> Any:
    """What stands at a position of a list; `within` as in tuple[X, ...] or tuple[X, Y]."""
    return within[0] if within[-1] is Ellipsis or position >= len(within) else within[position]


def _example(annotation: Any, within: bool = False) -> str:
    """A value as the file writes it, where a model tells one, its `EXAMPLE`; of a table `within` another no more than
    that it is one.
    """
    kind = next(iter(_kinds(annotation)), None)
    origin, entries = typing.get_origin(kind), typing.get_args(kind)
    if origin is dict:
        return f"{{ name = {_example(entries[1], within)} }}"
    if origin in (tuple, list):
        several = [f"{_example(entries[0], within)}", "..."] if entries[-1] is Ellipsis else None
        return f"[{', '.join(several or [_example(each, within) for each in entries])}]"
    if origin is typing.Literal:
        return f'"{entries[0]}"'
    if example := getattr(kind, "EXAMPLE", ""):
        return str(example)
    if fields := fields_of(kind):
        keys = ", ".join(f"{key} = {_example(each, within=True)}" for key, each in fields.items())
        return "{ ... }" if within else f"{{ {keys} }}"
    return _PLAIN.get(kind, "...") if isinstance(kind, type) else "..."
