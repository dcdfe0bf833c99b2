"""Whatever is damaged in a parameter file, the answer is a study or a message, never a crash."""

from copy import deepcopy
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.errors import InputError
from kit.study.parameters import checked
from kit.study.resolving import variant_of
from kit.study.variants import choices
from kit.study.yaml_reader import Document, parse_yaml, read_yaml
from tests.study.files import SMALL

FULL = read_yaml(Path(__file__).with_name("every_key.yml")).values
PLAIN = parse_yaml(SMALL).values

texts = st.one_of(
    st.text(max_size=12), st.sampled_from(["1 mm", "-1 mm", "1", "true", "1/2", "bending", "svg", "a.b"])
)
junk = st.recursive(
    st.one_of(st.none(), texts),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(texts, inner, max_size=3)),
    max_leaves=6,
)


def places(values, path=()):
    """Key paths of everything in a file."""
    yield path
    items = (
        values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    )
    for key, item in items:
        yield from places(item, (*path, key))


def damaged(values, path, value):
    values = deepcopy(values)
    here = values
    for part in path[:-1]:
        here = here[part]
    here[path[-1]] = value
    return values


def study_or_message(values):
    document = Document(Path("study.yml"), values)
    try:
        model = checked(document)
        for choice in choices(document, model):
            variant_of(choice, Path())
    except InputError as refusal:
        lines = str(refusal).splitlines()
        assert refusal.what and len(lines) <= 40 and max(map(len, lines)) < 600


@pytest.mark.parametrize("values", [FULL, PLAIN], ids=["every key", "small"])
@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_any_value_replaced_by_anything(values, data):
    path = data.draw(st.sampled_from([place for place in places(values) if place]))
    study_or_message(damaged(values, path, data.draw(junk)))


@pytest.mark.parametrize("values", [FULL, PLAIN], ids=["every key", "small"])
def test_any_key_left_out(values):
    for path in places(values):
        if path and isinstance(path[-1], str):
            fewer = deepcopy(values)
            here = fewer
            for part in path[:-1]:
                here = here[part]
            del here[path[-1]]
            study_or_message(fewer)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(texts, st.lists(junk, max_size=3), max_size=3), st.lists(junk, max_size=2))
def test_any_variants(vary, named):
    study_or_message({**deepcopy(PLAIN), "variants": {"vary": vary, "named": named}})


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text):
    try:
        checked(parse_yaml(text))
    except InputError as refusal:
        assert refusal.where
