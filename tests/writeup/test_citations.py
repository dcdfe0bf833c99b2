"""Sources and caveats: those of what ran, in a fixed order, rendered with nothing missing."""

import pandas as pd
import pytest

import kit.sections.torsion  # noqa: F401  (registers its sources)
from kit.sources import bibliography, caveats
from kit.writeup import citations

TORSION = "kit.sections.torsion.torsion"


def test_only_the_sources_of_what_ran_are_listed():
    assert citations.keys([TORSION]) == ["diaz-weinstein-1948", "timoshenko-goodier-1970"]


def test_a_missing_source_is_named():
    with pytest.raises(KeyError, match="nobody-1900"):
        citations.keys([], extra=["nobody-1900"])


def test_an_article_is_rendered_in_full():
    (entry,) = citations.rendered(("diaz-weinstein-1948",))
    for part in (
        "Diaz, J. B.",
        "Weinstein, A.",
        "(1948)",
        "American Journal of Mathematics",
        "70",
        "107–116",
    ):
        assert part in entry[1]


@pytest.mark.parametrize("key", sorted(bibliography()))
def test_every_entry_of_the_bibliography_can_be_rendered(key):
    entry = bibliography()[key]
    ((found, text),) = citations.rendered((key,))
    assert found == key
    assert str(entry["issued"]["date-parts"][0][0]) in text
    assert citations.short(key).strip()
    if entry.get("DOI"):
        assert f"https://doi.org/{entry['DOI']}" in text


def test_order_does_not_depend_on_the_order_of_asking():
    wanted = tuple(sorted(bibliography()))
    assert citations.rendered(wanted) == citations.rendered(wanted[::-1])


def test_caveats_stand_strongest_first_with_the_members_they_touch():
    slight = next(key for key, c in caveats().items() if c["strength"] == 3)
    members = pd.DataFrame({"caveats": [slight, f"{slight} not-a-design", "", None]})
    assert citations.touched(members) == {slight: 2, "not-a-design": 1}
    body = citations.caveats_table([], members).body
    assert body.index(caveats()["not-a-design"]["text"][:30]) < body.index("slight")


def test_a_caveat_without_text_is_seen_to_lack_it():
    made = citations.caveats_table([], pd.DataFrame({"caveats": ["of-no-such-key"]}))
    assert "lacks it" in made.body
