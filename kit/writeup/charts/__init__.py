"""The charts of a write-up. Each function takes tables and gives a :class:`kit.writeup.figures.Figure`."""

from kit.writeup.charts.checks import published_checks
from kit.writeup.charts.letters import letter_map
from kit.writeup.charts.lines import reference_line
from kit.writeup.charts.loads import load_against_mass
from kit.writeup.charts.merit import merit_by_outline
from kit.writeup.charts.ranks import rank_intervals
from kit.writeup.charts.states import limit_state_map
from kit.writeup.charts.torsion import bounds_on_J
from kit.writeup.figures import enable

__all__ = [
    "bounds_on_J",
    "enable",
    "letter_map",
    "limit_state_map",
    "load_against_mass",
    "merit_by_outline",
    "published_checks",
    "rank_intervals",
    "reference_line",
]
