"""A figure: a chart with all a reader needs beside it, shown in JupyterLab and carried into the page."""

from __future__ import annotations

import base64
from dataclasses import dataclass, field

import altair as alt
from altair.utils import schemapi

from kit.writeup import look

# Holding every part of a chart against the schema takes longer than everything else about it. The tests of the
# write-up do it for every chart there is; a study does not do it again.
schemapi.disable_debug_mode()

VEGA_LITE = "application/vnd.vegalite.v5+json"
PART = "application/vnd.section-study.part+json"
# JupyterLab draws a stored chart only if it calls itself Vega-Lite 5; ours use nothing newer.
SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"


@dataclass(frozen=True)
class Figure:
    """A chart, its title, caption and the words that stand for it.

    Parameters
    ----------
    key : str
        What a cross-reference calls it: ``[Figure](#fig:key)``.
    chart : altair.TopLevelMixin
        The chart itself.
    title : str
        Short text above the chart.
    caption : str
        What is shown, how to read it, what was left out; Markdown is not interpreted.
    alternative : str
        What a reader who cannot see the chart should know: form, axes, the main finding in numbers.
    layout : dict
        ``panel`` (px) and ``most`` columns: how panels flow on wide and narrow screens.
    """

    key: str
    chart: alt.TopLevelMixin
    title: str
    caption: str
    alternative: str
    layout: dict = field(default_factory=dict)

    def spec(self) -> dict:
        """The chart as Vega-Lite JSON (a dictionary)."""
        with alt.data_transformers.enable("default", max_rows=None, consolidate_datasets=True):
            spec = self.chart.to_dict(validate=schemapi.DEBUG_MODE)
        spec["$schema"] = SCHEMA
        spec["description"] = self.alternative
        spec["config"] = look.config()
        return spec

    def part(self) -> dict:
        """What the page needs beside the chart."""
        return {
            "kind": "figure",
            "key": self.key,
            "title": self.title,
            "caption": self.caption,
            "alternative": self.alternative,
            "layout": self.layout,
        }

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        plain = f"{self.title}. {self.alternative}"
        return {VEGA_LITE: self.spec(), PART: self.part(), "text/plain": plain}


def enable() -> None:
    """Make bare Altair charts show offline in JupyterLab too, and carry over into the page.

    Registers the renderer ``section-study`` with Altair and switches to it. A bare chart has no key,
    so nothing can refer to it; its ``title`` and ``description`` become title and alternative text.
    """

    def bundle(spec: dict, **_: object) -> dict:
        spec = {**spec, "$schema": SCHEMA, "config": look.config()}
        title = spec.get("title", "")
        words = title.get("text", "") if isinstance(title, dict) else title
        alternative = spec.get("description") or words
        part = {"kind": "figure", "key": "", "title": "", "caption": words, "alternative": alternative}
        return {VEGA_LITE: spec, PART: part | {"layout": {}}, "text/plain": alternative or "chart"}

    alt.renderers.register("section-study", bundle)
    alt.renderers.enable("section-study")


@dataclass(frozen=True)
class Picture:
    """A still picture (SVG text or PNG bytes) as a numbered figure, such as the outline sheet.

    Parameters
    ----------
    key, title, caption, alternative : str
        As for :class:`Figure`.
    image : str or bytes
        SVG, or PNG.
    """

    key: str
    image: str | bytes
    title: str
    caption: str
    alternative: str

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        part = {
            "kind": "picture",
            "key": self.key,
            "title": self.title,
            "caption": self.caption,
            "alternative": self.alternative,
        }
        if isinstance(self.image, str):
            return {"image/svg+xml": self.image, PART: part, "text/plain": self.alternative}
        coded = base64.b64encode(self.image).decode("ascii")
        return {"image/png": coded, PART: part, "text/plain": self.alternative}
