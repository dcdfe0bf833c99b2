"""The kinds of value a parameter file holds: text, names, choices, numbers, quantities.

Each kind reads text as it was written and says what it would have accepted; the same definition gives the
JSON Schema and the unit in the reference table.
"""

import difflib
import math
import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainSerializer, WithJsonSchema
from pydantic_core import PydanticCustomError

from kit import quantities
from kit.errors import InputError


class Keys(BaseModel):
    """A mapping of the parameter file: its keys are the fields, unknown ones are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


@dataclass(frozen=True)
class Unit:
    """Marks a field as a quantity; the reference table reads it."""

    dimension: str


@dataclass(frozen=True)
class Words:
    """Marks a field as one of a few words; the reference table lists them."""

    accepted: tuple[str, ...]


def refuse(found: str, accepted: str) -> PydanticCustomError:
    """An error of one value: what was found, what would be accepted."""
    return PydanticCustomError("kit", "{found}", {"found": found, "accepted": accepted})


def _as_text(value: Any, accepted: str) -> str:
    if value is None:
        raise refuse("nothing is given", accepted)
    if not isinstance(value, str):
        kind = {dict: "a mapping", list: "a list", tuple: "a list"}.get(type(value), repr(value))
        raise refuse(f"{kind} where one value belongs", accepted)
    return value.strip()


def _limits(above: float | None, least: float | None, below: float | None, most: float | None, show):
    rules = ((above, "above"), (least, "at least"), (below, "below"), (most, "at most"))
    return " and ".join(f"{word} {show(limit)}" for limit, word in rules if limit is not None)


def _within(value: float, above, least, below, most) -> bool:
    return (
        (above is None or value > above)
        and (least is None or value >= least)
        and (below is None or value < below)
        and (most is None or value <= most)
    )


# No quantity of a study lies outside, in the unit used inside the kit; powers of what lies inside stay finite.
SMALLEST, LARGEST = 1e-12, 1e12


def quantity(dimension: str, *, above=None, least=None, below=None, most=None) -> Any:
    """Field type of one quantity, held as a float in the unit used inside the kit."""
    limits = _limits(above, least, below, most, lambda x: quantities.text_of(x, dimension))

    def read(value: Any) -> float:
        if isinstance(value, (dict, list)) or value is None:
            _as_text(value, quantities.accepted(dimension))
        try:
            number = quantities.parse(value, dimension)
        except InputError as error:
            raise refuse(error.what, error.todo) from None
        if not _within(number, above, least, below, most):
            raise refuse(f"{value!r} is out of range", f"{dimension} {limits}")
        if number and not SMALLEST <= abs(number) <= LARGEST:
            small, large = (quantities.text_of(x, dimension) for x in (SMALLEST, LARGEST))
            raise refuse(f"{value!r} is out of range", f"{dimension} from {small} to {large}")
        return number

    schema = {
        "type": "string",
        "description": f"{dimension}: {quantities.accepted(dimension)}" + (f"; {limits}" if limits else ""),
        "examples": [quantities.EXAMPLES[dimension]],
    }
    return Annotated[
        float,
        BeforeValidator(read),
        PlainSerializer(lambda value: quantities.text_of(value, dimension), return_type=str),
        WithJsonSchema(schema),
        Unit(dimension),
    ]


_PLAIN_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


def number(*, above=None, least=None, below=None, most=None) -> Any:
    """Field type of one decimal number without a unit."""
    accepted = f"one decimal number {_limits(above, least, below, most, lambda x: f'{x:g}')}".strip()

    def read(value: Any) -> float:
        if not isinstance(value, (int, float)) or isinstance(value, bool):
            text = _as_text(value, accepted)
            if not _PLAIN_NUMBER.fullmatch(text):
                raise refuse(f"{text!r} is not a number", accepted)
            value = float(text)
        if not math.isfinite(value) or not _within(value, above, least, below, most):
            raise refuse(f"{value:g} is out of range", accepted)
        return float(value)

    schema = {"type": "number", "description": accepted}
    return Annotated[float, BeforeValidator(read), WithJsonSchema(schema)]


def whole(*, least: int, most: int) -> Any:
    """Field type of one whole number."""
    accepted = f"a whole number from {least} to {most}"

    def read(value: Any) -> int:
        text = str(value) if type(value) is int else _as_text(value, accepted)
        if not re.fullmatch(r"[+-]?[0-9]{1,15}", text):
            raise refuse(f"{text!r} is not a whole number", accepted)
        if not least <= int(text) <= most:
            raise refuse(f"{text} is out of range", accepted)
        return int(text)

    schema = {"type": "integer", "minimum": least, "maximum": most}
    return Annotated[int, BeforeValidator(read), WithJsonSchema(schema)]


def choice(*accepted: str) -> Any:
    """Field type of one word out of a closed list."""
    listed = "one of: " + ", ".join(accepted)

    def read(value: Any) -> str:
        text = _as_text(value, listed)
        if text not in accepted:
            raise refuse(f"{text!r} is not known here{suggestion(text, accepted)}", listed)
        return text

    schema = WithJsonSchema({"type": "string", "enum": list(accepted)})
    return Annotated[str, BeforeValidator(read), schema, Words(accepted)]


def suggestion(found: str, known) -> str:
    """``; did you mean 'x'?`` where something known is near, else nothing."""
    folded = {str(name).casefold(): str(name) for name in known}
    near = difflib.get_close_matches(found.casefold(), folded, n=1, cutoff=0.6)
    return f"; did you mean {folded[near[0]]!r}?" if near else ""


def _text(longest: int, accepted: str):
    def read(value: Any) -> str:
        text = _as_text(value, accepted)
        if not text or len(text) > longest or re.search(r"[\x00-\x08\x0b-\x1f\x7f]", text):
            raise refuse(f"{text[:60]!r} is empty, too long or holds control characters", accepted)
        return text

    return read


def _matching(pattern: str, accepted: str):
    def read(value: Any) -> str:
        text = _as_text(value, accepted)
        if not re.fullmatch(pattern, text):
            raise refuse(f"{text!r} cannot be used as a name", accepted)
        return text

    return read


def _yes_no(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    text = _as_text(value, "true or false")
    if text not in ("true", "false"):
        raise refuse(f"{text!r} is neither true nor false", "true or false")
    return text == "true"


Text = Annotated[str, BeforeValidator(_text(2000, "text"))]
Name = Annotated[
    str,
    BeforeValidator(
        _matching(
            r"[^\W_][\w \-+/]{0,59}", "letters, digits, blanks and - _ + /, beginning with a letter or digit"
        )
    ),
]
StudyName = Annotated[
    str,
    BeforeValidator(
        _matching(
            r"(?i)(?!(con|prn|aux|nul|com[0-9]|lpt[0-9])$)[a-z0-9][a-z0-9_\-]{0,59}",
            "letters a-z, digits, - and _, because it names the folder of the results",
        )
    ),
]
YesNo = Annotated[bool, BeforeValidator(_yes_no)]
FileName = Annotated[
    str, BeforeValidator(_text(1000, "the path of a file, absolute or relative to this file"))
]


def _listed(value: Any) -> Any:
    return value if isinstance(value, (list, tuple)) or value is None else [value]


class _OneOrMany:
    """Lets the JSON Schema of a list accept one item without brackets."""

    def __get_pydantic_json_schema__(self, core_schema: Any, handler: Any) -> dict:
        schema = handler(core_schema)
        return {"anyOf": [schema["items"], schema]}


def one_or_many(item: Any) -> Any:
    """Field type of a list, in which a single value may stand without brackets."""
    return Annotated[tuple[item, ...], BeforeValidator(_listed), _OneOrMany()]
