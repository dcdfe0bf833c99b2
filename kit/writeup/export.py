"""Figures as files: SVG for editors, PNG for slides, Vega-Lite JSON for whoever wants to change them."""

from __future__ import annotations

import base64
import json
from pathlib import Path

from kit.writeup import stills


def charts(charts: list[dict], folder: Path) -> list[Path]:
    """Write every chart of a page into a folder, in three forms each.

    Parameters
    ----------
    charts : list of dict
        ``key``, ``spec``, ``layout`` of each, as :class:`kit.writeup.parts.Parts` keeps them.
    folder : Path
        Made if it is not there.

    Returns
    -------
    list of Path
        The files.
    """
    folder.mkdir(parents=True, exist_ok=True)
    return [path for chart in charts for path in one(chart, folder)]


def one(chart: dict, folder: Path) -> list[Path]:
    """One chart as ``key.svg``, ``key.png`` and ``key.vl.json``."""
    names = [folder / f"{chart['key']}.{ending}" for ending in ("svg", "png", "vl.json")]
    names[0].write_text(stills.svg(chart["spec"], chart["layout"]), encoding="utf-8", newline="\n")
    names[1].write_bytes(stills.png(chart["spec"], chart["layout"]))
    text = json.dumps(chart["spec"], ensure_ascii=False, indent=1, sort_keys=True)
    names[2].write_text(text + "\n", encoding="utf-8", newline="\n")
    return names


def base64_png(chart: dict) -> str:
    """A chart's PNG as text, for a page."""
    return base64.b64encode(stills.png(chart["spec"], chart["layout"])).decode("ascii")
