"""What pydantic reports, said in words a maker understands, with the keys that would have been accepted."""

from __future__ import annotations

import re
import typing
from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import BaseModel, ValidationError

from sequencer.diagnostics import nearest, shortened
from sequencer.files.accepted import fields_of, taken
from sequencer.model.fields import Complaint, Place
from sequencer.quantity import as_written

_BOUNDS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


def complaints_of(error: ValidationError, model: Any, raw: Any) -> list[Complaint]:
    """The complaints of a failed validation of `raw` as `model` (a pydantic class or a union of them)."""
    said: dict[Place, Complaint] = {}
    for detail in error.errors(include_url=False):
        place, owner = _place(detail["loc"], model, raw)
        complaint = _complaint(detail["type"], place, owner, detail, detail.get("ctx") or {})
        if not complaint.accepted and (detail["type"] == "missing" or detail["type"].endswith("_type")):
            of_kind = _tagged(_unwrapped(model), detail["loc"][0]) if detail["loc"] else None
            complaint = complaint._replace(accepted=taken(of_kind or model, complaint.place))
        if detail["type"] == "missing" and isinstance(detail["loc"][-1], int):
            said[*complaint.place, ""] = (
                complaint  # of several entries the last one that is missing counts them all
            )
        else:
            named = complaint.message if detail["type"] == "missing" else ""
            said.setdefault((*complaint.place, named), complaint)
    return [c for c in said.values() if not _follows(c, said.values())]


def _follows(complaint: Complaint, others: Iterable[Complaint]) -> bool:
    """Whether a list is only called too short because of an entry that is wrong in itself."""
    size = len(complaint.place)
    return complaint.message.startswith("must have at least") and any(
        len(other.place) > size and other.place[:size] == complaint.place for other in others
    )


def _complaint(kind: str, place: Place, owner: Any, detail: Any, context: dict[str, Any]) -> Complaint:
    given = detail.get("input")
    key = str(place[-1]) if place else ""
    if kind == "said":
        return Complaint(place, context["message"], context["accepted"])
    if kind == "value_error":
        cause = context["error"]
        return Complaint(place, str(cause), getattr(cause, "accepted", ""))
    if kind == "extra_forbidden":
        known = _keys(owner)
        return Complaint(place, f'unknown key "{shortened(key)}"{nearest(key, known)}', ", ".join(known))
    if kind == "missing" and place and isinstance(place[-1], int):
        return Complaint(place[:-1], f"must have at least {place[-1] + 1} entries")
    if kind == "missing":
        return Complaint(place, f"{key} is missing")
    if kind == "union_tag_not_found":
        tag = _quoted(context["discriminator"])
        return Complaint(place, f"{tag} is missing", ", ".join(_tags(owner)))
    if kind == "union_tag_invalid":
        tag, tags = _quoted(context["discriminator"]), _tags(owner)
        told = inside(given, tag)
        wrong = as_written(told) + (nearest(told, tags) if isinstance(told, str) else "")
        return Complaint((*place, tag), f"must be a kind that is known, not {wrong}", ", ".join(tags))
    return Complaint(place, _predicate(kind, context, given))


def _predicate(kind: str, context: dict[str, Any], given: Any) -> str:
    shown = as_written(given)
    if kind in _BOUNDS:
        limit, words = _BOUNDS[kind]
        return f"must be {words} {context[limit]:g}, not {shown}"
    if kind == "literal_error":
        options = re.findall(r"'([^']*)'", context["expected"])
        hint = nearest(given, options) if isinstance(given, str) else ""
        named = [f'"{option}"' for option in options]
        words = " or ".join(filter(None, (", ".join(named[:-1]), named[-1])))
        return f"must be {words}, not {shown}{hint}"
    if kind in ("too_short", "too_long"):
        few = kind == "too_short"
        count = context["min_length" if few else "max_length"]
        entries = "entry" if count == 1 else "entries"
        return f"must have at {'least' if few else 'most'} {count} {entries}, not {context['actual_length']}"
    if kind == "string_too_short":
        return "must not be empty"
    for start, words in (
        ("int", "a whole number"),
        ("float", "a number"),
        ("finite_number", "a finite number"),
        ("bool", "true or false"),
        ("string", "text"),
        ("tuple", "a list"),
        ("list", "a list"),
        ("dict", "a table"),
        ("model", "a table"),
    ):
        if kind.startswith(start):
            return f"must be {words}, not {shown}"
    return f"is not what is wanted here: {shown}"


def _place(loc: Place, model: Any, raw: Any) -> tuple[Place, Any]:
    """The place in the file of a pydantic location (which names unions' members too), and the class there."""
    place: list[str | int] = []
    owner = _unwrapped(model)
    for index, step in enumerate(loc):
        last = index == len(loc) - 1
        tagged = _tagged(owner, step)
        if tagged is not None and not (isinstance(raw, dict) and step in raw):
            owner = tagged
            continue
        fields = fields_of(owner)
        known = isinstance(step, int) or step in fields or (isinstance(raw, dict) and step in raw)
        if not known and not (last and fields):
            continue  # the name pydantic gives to a member of a union
        place.append(step)
        if last and isinstance(step, str):
            break
        raw = inside(raw, step)
        if isinstance(step, str):
            owner = _unwrapped(fields.get(step, owner))
    return tuple(place), owner


def inside(raw: Any, step: str | int) -> Any:
    """What stands in a file's data under a key or at a position; None where nothing does."""
    try:
        return raw[step]
    except (KeyError, IndexError, TypeError):
        return None


def _unwrapped(annotation: Any) -> Any:
    """The model class or union of model classes inside Annotated, Optional, tuple ..."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    models = list(_models(annotation))
    return models[0] if len(models) == 1 else tuple(models)


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    elif isinstance(annotation, tuple):
        for each in annotation:
            yield from _models(each)
    else:
        for each in typing.get_args(annotation):
            yield from _models(each)


def _keys(owner: Any) -> list[str]:
    return list(fields_of(owner))


def _kind_of(model: type[BaseModel]) -> str:
    """The tag by which a member of a union is told from the others."""
    for field in (model.model_fields.get(name) for name in ("kind", "shape")):
        if field and typing.get_args(field.annotation):
            return str(typing.get_args(field.annotation)[0])
    return ""


def _tags(owner: Any) -> list[str]:
    return [_kind_of(model) for model in _models(owner)]


def _tagged(owner: Any, step: str | int) -> Any:
    """The member of a union that pydantic's location names by its tag."""
    if not isinstance(owner, tuple):
        return None
    return next((model for model in owner if _kind_of(model) == step), None)


def _quoted(text: str) -> str:
    return text.strip("'")
