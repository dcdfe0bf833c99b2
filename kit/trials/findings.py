"""What was noticed about a record, and what was done about it: nothing is put right silently."""

from __future__ import annotations

from dataclasses import dataclass

NOTED, CORRECTED, WITHHELD, LEFT_OUT = "noted", "corrected", "value withheld", "left out"


@dataclass(frozen=True)
class Finding:
    """One thing noticed.

    Attributes
    ----------
    key : str
        What kind of thing: ``spikes``, ``saturation``, ``preload`` …
    text : str
        In words, with numbers and units.
    action : str
        ``noted``, ``corrected``, ``value withheld`` or ``left out``.
    """

    key: str
    text: str
    action: str = NOTED

    def __str__(self) -> str:
        return f"{self.text} ({self.action})"
