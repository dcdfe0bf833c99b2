"""The reference at other masses: scaled by geometric similarity and evaluated again, never by a power."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.resistance import resistance
from kit.sections.section import scaled

SCALES = np.geomspace(0.35, 2.2, 61)


def reference_line(
    reference_row: pd.Series, case: LoadCase, material: Material, service: Service, *, variant: str = ""
) -> pd.DataFrame:
    """The line of merit 1 of one panel of :func:`kit.writeup.charts.load_against_mass`.

    Parameters
    ----------
    reference_row : Series
        The reference's row of the sections table.
    case, material, service
        As the panel's members were computed.
    variant : str
        The panel's variant.

    Returns
    -------
    DataFrame
        As :func:`kit.members.resistance.resistance` gives it, one row a scale, with ``variant``; masses
        where the reference cannot be assessed have no resistance. Concatenate the lines of all panels.
    """
    copies = pd.DataFrame({name: [value] * len(SCALES) for name, value in reference_row.items()})
    numbers = copies.select_dtypes("number").astype(float)
    table = copies.assign(**{column: numbers[column] for column in numbers})
    made = resistance(scaled(table, SCALES), case, material, service)
    return made.assign(variant=variant)
