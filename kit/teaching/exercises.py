"""Exercises that check themselves: numbers drawn for each student, hints for wrong answers, never an error."""

from __future__ import annotations

import hashlib
import math
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from kit.errors import InputError

Bank = Callable[["Numbers"], "tuple[Exercise, ...]"]
_BANKS: dict[str, Bank] = {}
TENS = {
    1: "a factor of 10: look at the units (cm and mm).",
    2: "a factor of 100: look at the units, or at a per cent.",
    3: "a factor of 1000: look at the units (kN and N, or m and mm).",
}
SLIPS = {
    2.0: "a factor of 2: a half, or a diameter for a radius?",
    3.0: "a factor of 3: is a third missing, or one too many?",
    4.0: "a factor of 4: a square too many, or a diameter for a radius?",
    8.0: "a factor of 8: the cube of a diameter for that of a radius?",
    16.0: "a factor of 16: the fourth power of a diameter for that of a radius?",
}


class Numbers:
    """Numbers for one student and one example: the same student always gets the same ones.

    Parameters
    ----------
    student : str
        Any name; upper and lower case, blanks and how its accents are written make no difference.
    example : str
    """

    def __init__(self, student: str, example: str) -> None:
        name = " ".join(unicodedata.normalize("NFKC", str(student)).casefold().split())
        self._text = f"{name}\n{example}"
        self.given: dict[str, float] = {}

    def between(self, name: str, low: float, high: float, step: float = 1.0) -> float:
        """A multiple of ``step`` above ``low``, up to ``high``, in the unit of both; kept under its name."""
        # By a hash and not by a generator of random numbers, which may draw others in another version of its library.
        drawn = hashlib.sha256(f"{self._text}\n{name}".encode()).digest()
        value = low + step * (int.from_bytes(drawn[:8], "big") % (round((high - low) / step) + 1))
        self.given[name] = round(value, 9)
        return self.given[name]


def shown(value: float) -> str:
    """A number of any size in five figures and with spaces between thousands: ``1 234 500``, never ``1.2345e+06``."""
    rounded = float(f"{value:.5g}")
    text = f"{rounded:,.0f}".replace(",", " ") if abs(rounded) >= 10_000 else f"{rounded:g}"
    return text.replace("-", "−")


@dataclass(frozen=True, repr=False)
class Verdict:
    """What is said about an answer.

    Attributes
    ----------
    right : bool
    text : str
    """

    right: bool
    text: str

    def __repr__(self) -> str:
        return self.text

    def _repr_markdown_(self) -> str:
        return self.text


@dataclass(frozen=True, repr=False)
class Exercise:
    """A question with one number for an answer, which showing the question does not give away.

    Attributes
    ----------
    question : str
        Markdown; says the unit of the answer.
    answer : float
        In that unit.
    hint : str
        How to go about it.
    slips : tuple of (float, str)
        Wrong answers that are easily reached, and what each overlooks.
    within : float
        Relative tolerance: three figures are enough.
    given : dict
        The numbers drawn for the example, by name, in the units of the questions.
    """

    question: str
    answer: float
    hint: str
    slips: tuple[tuple[float, str], ...] = ()
    within: float = 0.005
    given: dict[str, float] = field(default_factory=dict)

    def __repr__(self) -> str:
        return self.question

    def _repr_markdown_(self) -> str:
        return f"**Exercise.** {self.question}"

    def check(self, answer) -> Verdict:
        """Say whether an answer is right, or what it may have overlooked; takes anything, raises nothing."""
        if answer is None:
            return Verdict(False, "No answer yet: put a number in place of `None`.")
        value = _number(answer)
        if value is None:
            asked = "give a single one with a decimal point: no unit, no blanks, no brackets."
            return Verdict(False, f"`{_text(answer)}` is no number: {asked}")
        if self._near(value, self.answer):
            return Verdict(True, f"**Right**: {shown(self.answer)}.")
        return Verdict(False, f"Not yet. {self._why(value)}")

    def _near(self, value: float, target: float) -> bool:
        return abs(value - target) <= self.within * abs(target)

    def _why(self, value: float) -> str:
        if slips := [why for wrong, why in self.slips if self._near(value, wrong)]:
            return f"{' Or: '.join(slips)} {self.hint}"
        if self._rounded(value):
            return "Nearly: it is rounded too far. Give three figures."
        if self._near(-value, self.answer):
            return f"The size is right, the sign is not. {self.hint}"
        size = math.copysign(value, self.answer)
        if off := self._off(size):
            return f"You are off by {off} {self.hint}" + (" And the sign." if size != value else "")
        return self.hint

    def _rounded(self, value: float) -> bool:
        """Whether it is the answer in one or two figures."""
        return self.within > 1e-3 and value in (float(f"{self.answer:.1g}"), float(f"{self.answer:.2g}"))

    def _off(self, size: float) -> str | None:
        """By which common factor an answer of the right sign is off, if by any."""
        power = round(math.log10(size / self.answer)) if size else 0
        if power and self._near(size / 10.0**power, self.answer):
            many = f"a power of ten ({abs(power)}): look at the units, and their own powers (mm⁴)."
            return TENS.get(abs(power), many)
        for factor, why in SLIPS.items():
            if self._near(size * factor, self.answer) or self._near(size / factor, self.answer):
                return why
        return None


def _number(answer) -> float | None:
    """A finite number from whatever a student gives, or None."""
    if isinstance(answer, bool):
        return None
    try:
        value = float(answer)
    except Exception:  # what a stranger's object may raise is no matter: it is no number
        return None
    return value if math.isfinite(value) else None


def _text(answer) -> str:
    """The beginning of what a student gave, as text on one line."""
    try:
        return " ".join(str(answer).replace("`", "'").split())[:40] or "an empty text"
    except Exception:
        return type(answer).__name__


def bank(example: str) -> Callable[[Bank], Bank]:
    """Decorator: the function makes the exercises of an example from a student's numbers."""

    def keep(make: Bank) -> Bank:
        _BANKS[example] = make
        return make

    return keep


def examples() -> list[str]:
    """Names of the examples that have exercises."""
    from kit.teaching import questions, questions_further  # noqa: F401 - they register themselves

    return sorted(_BANKS)


def exercises(example: str, student: str) -> tuple[Exercise, ...]:
    """The exercises of an example with a student's numbers.

    Parameters
    ----------
    example : str
        As in the name of the notebook, without its number: ``"bending"``.
    student : str

    Raises
    ------
    InputError
        If no example has this name.
    """
    if example not in examples():
        known = ", ".join(_BANKS)
        raise InputError(f"{example!r} is no example with exercises", "exercises(...)", f"use one of {known}")
    numbers = Numbers(student, example)
    return tuple(replace(one, given=numbers.given) for one in _BANKS[example](numbers))
