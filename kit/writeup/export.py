"""Figures as files: SVG for editors, PNG for slides, Vega-Lite JSON for whoever wants to change them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from kit.writeup.stills import Still


def charts(charts: Sequence[Mapping], stills: Mapping[str, Still], folder: Path) -> list[Path]:
    """Write every chart of a page into a folder, as ``key.svg``, ``key.png`` and ``key.vl.json``.

    Charts that an earlier page had there and this one has not are taken away.

    Parameters
    ----------
    charts : sequence of mappings
        ``key``, ``spec``, ``layout`` of each, as :class:`kit.writeup.parts.Parts` keeps them.
    stills : mapping
        The still of each, by its key.
    folder : Path
        Made if it is not there.

    Returns
    -------
    list of Path
        The files.
    """
    folder.mkdir(parents=True, exist_ok=True)
    kept = {chart["key"] for chart in charts}
    for spec in folder.glob("*.vl.json"):
        if (key := spec.name.removesuffix(".vl.json")) not in kept:
            for path in _names(folder, key):
                path.unlink(missing_ok=True)
    return [path for chart in charts for path in _one(chart, stills[chart["key"]], folder)]


def _one(chart: Mapping, still: Still, folder: Path) -> list[Path]:
    names = _names(folder, chart["key"])
    names[0].write_text(still.svg, encoding="utf-8", newline="\n")
    names[1].write_bytes(still.png)
    text = json.dumps(chart["spec"], ensure_ascii=False, indent=1, sort_keys=True)
    names[2].write_text(text + "\n", encoding="utf-8", newline="\n")
    return names


def _names(folder: Path, key: str) -> list[Path]:
    return [folder / f"{key}.{ending}" for ending in ("svg", "png", "vl.json")]
