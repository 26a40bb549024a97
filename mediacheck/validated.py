"""A document that people wrote, checked against its model, with every problem in plain words.

It must not know any one model: profiles and display files come through the same door.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from mediacheck.strict_yaml import Document, InvalidFile, Place, Problem, dotted

M = TypeVar("M", bound=BaseModel)

KEY = "[key]"
"""What pydantic appends to a place when it means the key of a map and not its value."""

CLOSE = 0.7
"""How alike a word must be to be offered as what was meant; below it, `no` would be told for `note`."""


def validated(document: Document, model: type[M]) -> M:
    """The document as an instance of its model. Raises InvalidFile with all problems, by line."""
    data: Any = dict(document.data)
    try:
        return model.model_validate(data)
    except ValidationError as error:
        data = _reread(document, error)
    try:
        return model.model_validate(data)
    except ValidationError as error:
        problems = [_problem(document, model, e) for e in error.errors() if not _echo(e)]
        raise InvalidFile(tuple(sorted(problems, key=lambda p: (p.line or 0, p.key)))) from error


def _reread(document: Document, error: ValidationError) -> Any:
    """The data again, where YAML's guess at a kind was not what the model wants.

    A text may look like a number or a yes (`id: 7`), and a section may have nothing in it yet (`loop:`).
    """
    better: dict[Place, Any] = {}
    for detail in error.errors():
        place = detail["loc"]
        if detail["type"] == "string_type" and place in document.texts:
            better[place] = document.texts[place]
        if detail["type"] in ("model_type", "dict_type") and detail["input"] is None:
            better[place] = {}
    return _with(document.data, better, ())


def _with(value: Any, better: Mapping[Place, Any], place: Place) -> Any:
    if place in better:
        return better[place]
    if isinstance(value, Mapping):
        return {key: _with(inside, better, (*place, key)) for key, inside in value.items()}
    if isinstance(value, tuple):
        return tuple(_with(inside, better, (*place, number)) for number, inside in enumerate(value))
    return value


def _echo(detail: ErrorDetails) -> bool:
    """A list that is called too short only because its entries were refused."""
    return detail["type"] == "too_short" and bool(detail["input"])


def _problem(document: Document, model: type[BaseModel], detail: ErrorDetails) -> Problem:
    place = detail["loc"][:-1] if detail["loc"][-1:] == (KEY,) else detail["loc"]
    context = detail.get("ctx", {})
    if detail["type"] == "impossible":
        place, expected, found = (*place, context["key"]), context["expected"], context["found"]
    else:
        expected, found = _expected(detail), _found(document, place, detail)
    return Problem(
        document.source,
        _line(document, place),
        dotted(place),
        expected,
        found,
        _nearest(model, place, detail),
    )


def _line(document: Document, place: Place) -> int | None:
    """The line of a key, or of the section that it is missing from."""
    while place not in document.lines and place:
        place = place[:-1]
    return document.lines.get(place)


_EXPECTED = {
    "missing": "a value",
    "extra_forbidden": "a key that is known here",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "string_type": "a text",
    "string_unicode": "a text",
    "tuple_type": "a list, such as [a, b]",
    "dict_type": "keys with values",
    "mapping_type": "keys with values",
    "model_type": "keys with values",
    "too_short": "at least one entry",
    "too_long": "at most {max_length} entries",
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "{ge:g} or more",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
    "literal_error": "{choice}",
    "value_error": "{error}",
}
"""Our words for pydantic's kinds of error; the names in braces are its context."""


def _expected(detail: ErrorDetails) -> str:
    context = {**detail.get("ctx", {}), "choice": _either(_choices(detail))}
    words = _EXPECTED.get(detail["type"])
    return words.format_map(context) if words else detail["msg"]


def _choices(detail: ErrorDetails) -> list[str]:
    """The words that a model allows, from pydantic's "'note', 'warn' or 'fail'" or "8, 10 or 12"."""
    text = str(detail.get("ctx", {}).get("expected", ""))
    return re.findall(r"'([^']*)'", text) or [word for word in re.split(r", | or ", text) if word]


def _either(choices: list[str]) -> str:
    if len(choices) > 20:
        return f"one of the {len(choices)} names that are known here"
    return " or ".join(filter(None, (", ".join(choices[:-1]), *choices[-1:])))


def _found(document: Document, place: Place, detail: ErrorDetails) -> str:
    value = detail["input"]
    if detail["type"] == "extra_forbidden" or detail["loc"][-1:] == (KEY,):
        return f'"{str(place[-1])[:60]}"'
    if detail["type"] == "missing" or value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return "keys with values"
    if isinstance(value, tuple):
        return "a list" if value else "an empty list"
    return str(document.texts[place])[:60] if place in document.texts else f'the text "{value[:60]}"'


def _nearest(model: type[BaseModel], place: Place, detail: ErrorDetails) -> str | None:
    """The known key or word that was probably meant."""
    if detail["type"] == "literal_error":
        return _closest(str(detail["input"]), _choices(detail))
    if detail["type"] != "extra_forbidden":
        return None
    *above, word = place
    here = _closest(str(word), _keys(_kind_at(model, tuple(above))))
    if here:
        return dotted((*above, here))
    return next((path for path in _paths(model) if path.rpartition(".")[2] == word), None)


def _closest(word: str, known: list[str]) -> str | None:
    plain = {re.sub(r"[\W_]", "", name).casefold(): name for name in known}
    close = get_close_matches(re.sub(r"[\W_]", "", word).casefold(), plain, n=1, cutoff=CLOSE)
    return plain[close[0]] if close else None


def _options(kind: Any) -> Iterator[Any]:
    """The kinds that an annotation allows, without what is wrapped around them."""
    if get_origin(kind) is Annotated:
        yield from _options(get_args(kind)[0])
    elif get_origin(kind) in (Union, UnionType):
        for option in get_args(kind):
            yield from _options(option)
    else:
        yield kind


def _keys(kind: Any) -> list[str]:
    """The keys that are known in a section."""
    return [key for option in _options(kind) if _is_model(option) for key in option.model_fields]


def _kind_at(kind: Any, place: Place) -> Any:
    """The annotation of what stands at a place; None where nothing can."""
    for step in place:
        kind = next((inside for option in _options(kind) if (inside := _inside(option, step))), None)
    return kind


def _inside(kind: Any, step: str | int) -> Any:
    if _is_model(kind):
        return kind.model_fields[step].annotation if step in kind.model_fields else None
    if isinstance(step, str):
        return get_args(kind)[1] if get_origin(kind) is Mapping else None
    return get_args(kind)[0] if get_origin(kind) is tuple else None


def _paths(kind: Any, above: str = "") -> Iterator[str]:
    """Every key that a model knows, dotted; the names in a map are written NAME."""
    for option in _options(kind):
        if _is_model(option):
            for key, field in option.model_fields.items():
                yield f"{above}{key}"
                yield from _paths(field.annotation, f"{above}{key}.")
        elif get_origin(option) is Mapping:
            yield from _paths(get_args(option)[1], f"{above}NAME.")


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)
