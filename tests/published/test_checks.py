"""Every published value that the kit can recompute, recomputed; each row of checks.csv names its source."""

import pytest

from kit import checks

ROWS = checks.published()


@pytest.mark.parametrize("identifier", sorted(checks.registered()))
def test_published_value(identifier):
    row = ROWS.loc[identifier]
    expected, tolerance = float(row["expected"]), float(row["rel_tol"])
    computed = checks.registered()[identifier]()
    assert computed == pytest.approx(expected, rel=max(tolerance, 1e-12), abs=1e-12), (
        f"{row['quantity']} of {row['input']} [{row['units']}]; {row['source']} ({row['confidence']})"
    )


def test_every_row_names_its_source():
    assert (ROWS["source"].str.len() > 10).all()
    assert ROWS.index.is_unique
