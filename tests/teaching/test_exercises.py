"""Exercises: numbers of one's own, right answers accepted, wrong ones hinted at, and never an error."""

import hashlib
import math
import re

import numpy as np
import pytest

from kit.errors import InputError
from kit.teaching.exercises import Exercise, Numbers, examples, exercises, shown

STUDENTS = [f"student {number}" for number in range(60)]
BANKS = examples()


@pytest.mark.parametrize("name", BANKS)
@pytest.mark.parametrize("student", STUDENTS)
def test_the_right_answer_is_accepted_and_a_tenth_more_is_not(name, student):
    for one in exercises(name, student):
        assert math.isfinite(one.answer) and one.answer != 0
        assert one.check(one.answer).right
        assert one.check(f"{one.answer:.3g}").right or one.within < 1e-3, "three figures are enough"
        wrong = one.check(1.1 * one.answer)
        assert not wrong.right and "Not yet" in wrong.text


@pytest.mark.parametrize("name", BANKS)
def test_every_slip_is_told_from_the_answer_and_hinted_at(name):
    for student in STUDENTS:
        for one in exercises(name, student):
            for wrong, why in one.slips:
                said = one.check(wrong)
                assert not said.right and why in said.text


@pytest.mark.parametrize("name", BANKS)
def test_students_get_numbers_of_their_own_and_always_the_same(name):
    questions = [tuple(one.question for one in exercises(name, student)) for student in STUDENTS]
    assert len(set(questions)) > len(STUDENTS) / 2
    assert questions[0] == tuple(one.question for one in exercises(name, "  STUDENT 0 "))


@pytest.mark.parametrize("name", BANKS)
def test_every_exercise_alone_has_answers_of_its_own(name):
    made = [exercises(name, student) for student in STUDENTS]
    for answers in zip(*([one.answer for one in student] for student in made), strict=True):
        assert len({round(value, 9) for value in answers}) >= 8


@pytest.mark.parametrize("name", BANKS)
def test_what_is_given_stands_in_a_question(name):
    for student in STUDENTS:
        made = exercises(name, student)
        asked = " ".join(one.question for one in made)
        for key, value in made[0].given.items():
            written = {f"{value:g}", shown(value), f"{value:.0f}", f"{value:.4f}"}
            assert any(re.search(rf"(?<![\d.]){re.escape(text)}(?![\d.]*\d)", asked) for text in written), key


class Strange:
    """Neither a number nor a text."""

    def __float__(self):
        raise RuntimeError("no number")

    def __str__(self):
        raise RuntimeError("no text")


@pytest.mark.parametrize(
    "answer",
    ["", "twelve", "1,5", (1, 5), "12 mm", "`12`", [], {}, True, object(), float("nan"), 1e999, "9" * 400]
    + [b"x", 1j, Strange(), np.array([1.0, 2.0])],
)
def test_what_is_no_number_gets_a_word_and_no_error(answer):
    said = exercises("bending", "Mika")[0].check(answer)
    assert not said.right and "no number" in said.text


def test_no_answer_yet_is_no_wrong_answer():
    assert "No answer yet" in exercises("bending", "Mika")[0].check(None).text


@pytest.mark.parametrize(
    ("wrong", "word"),
    [(-12.0, "sign"), (12000.0, "1000"), (1.2, "factor of 10"), (24.0, "factor of 2"), (-12000.0, "sign")]
    + [(12e6, "power of ten (6): look at the units"), (12e-12, "power of ten (12)"), (4.0, "factor of 3")]
    + [(96.0, "factor of 8"), (0.75, "factor of 16"), (0.0, "hint")],
)
def test_a_common_slip_is_recognised(wrong, word):
    assert word in Exercise("?", 12.0, "hint").check(wrong).text


@pytest.mark.parametrize(("answer", "given"), [(1.246, 1.2), (1.246, "1"), (0.3257, 0.33), (83460.0, 83e3)])
def test_an_answer_rounded_too_far_is_told_so(answer, given):
    said = Exercise("?", answer, "hint").check(given)
    assert not said.right and "three figures" in said.text and "hint" not in said.text


def test_a_count_is_not_to_be_rounded():
    assert "hint" in Exercise("?", 117.0, "hint", within=1e-9).check(120).text


@pytest.mark.parametrize("name", ["Zoe\u0308  Ma", " zo\u00eb ma "])
def test_a_name_typed_in_another_way_gets_the_same_numbers(name):
    same = [tuple(one.question for one in exercises("bending", student)) for student in ("Zo\u00eb Ma", name)]
    assert same[0] == same[1]


def test_numbers_are_multiples_inside_their_range():
    for student in STUDENTS:
        value = Numbers(student, "any").between("length", 2.0, 5.0, 0.5)
        assert 2.0 <= value <= 5.0 and value * 2 == round(value * 2)


def test_numbers_follow_from_the_name_alone_on_every_machine():
    fingerprint = hashlib.sha256(b"mika\nbending\nwall").hexdigest()
    assert Numbers(" Mika", "bending").between("wall", 4, 10, 1) == 4 + int(fingerprint[:16], 16) % 7


def test_an_unknown_example_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match="bending"):
        exercises("swimming", "Mika")


def test_showing_a_question_or_a_verdict_does_not_give_the_answer_away():
    for one in exercises("bending", "Mika"):
        for said in (repr(one), one._repr_markdown_(), repr(one.check(1.1 * one.answer))):
            assert f"{one.answer:.4g}" not in said and "Exercise(" not in said


@pytest.mark.parametrize(
    ("value", "text"), [(13225.0, "13 225"), (4.1e6, "4 100 000"), (1.20512, "1.2051"), (-20400.4, "−20 400")]
)
def test_numbers_are_shown_without_powers_of_ten(value, text):
    assert shown(value) == text
