"""Every published value that the kit can recompute, recomputed; each row of checks.csv names its source."""

import pytest

from kit import checks

ROWS = checks.published()


@pytest.mark.parametrize("identifier", sorted(checks.registered()))
def test_published_value(identifier):
    row = ROWS.loc[identifier]
    expected, tolerance = float(row["expected"]), float(row["rel_tol"])
    computed = checks.registered()[identifier]()
    # A printed zero has no relative tolerance: there the tolerance is in the row's own unit.
    room = {"abs": tolerance} if expected == 0 else {"rel": max(tolerance, 1e-12)}
    assert computed == pytest.approx(expected, **room), (
        f"{row['quantity']} of {row['input']} [{row['units']}]; {row['source']} ({row['confidence']})"
    )


def test_every_row_names_its_source():
    assert (ROWS["source"].str.len() > 10).all()
    assert ROWS.index.is_unique
