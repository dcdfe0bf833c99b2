"""From the outputs stored in an executed notebook to the HTML of the page's parts."""

from __future__ import annotations

import base64
import html
import re

from bs4 import BeautifulSoup

from kit.writeup.equations import mathml
from kit.writeup.figures import PART, VEGA_LITE
from kit.writeup.markdown import to_html

# Stored charts call themselves Vega-Lite 5 for JupyterLab's sake; the page draws them with its own script.
SCHEMA_OF_PAGE = "https://vega.github.io/schema/vega-lite/v6.json"
FORBIDDEN = ("script", "iframe", "object", "embed", "link", "meta", "base", "form", "audio", "video", "style")
COLOURED = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


class Parts:
    """Makes the parts of one page and keeps the charts it met, in order.

    Attributes
    ----------
    charts : list of dict
        ``key``, ``spec``, ``layout``, ``alternative`` of each chart, for scripts, stills and exports.
    """

    def __init__(self) -> None:
        self.charts: list[dict] = []
        self.used: set[str] = set()

    def part(self, data: dict) -> str:
        """HTML of an output that carries a part of ours, or of a bare chart."""
        found = data.get(PART) or {"kind": "figure", "caption": data.get("text/plain", "")}
        return getattr(self, f"_{found['kind']}")(found, data)

    def _figure(self, found: dict, data: dict) -> str:
        key = self._key(found.get("key") or f"chart-{len(self.charts) + 1}")
        spec = {**data[VEGA_LITE], "$schema": SCHEMA_OF_PAGE}
        alternative = found.get("alternative") or spec.get("description") or found.get("caption", "")
        self.charts.append(
            {"key": key, "spec": spec, "layout": found.get("layout", {}), "alternative": alternative}
        )
        safe, label = html.escape(key), html.escape("Chart: " + found.get("title", ""))
        return (
            f'<figure class="chart" id="fig:{safe}" data-chart="{safe}">{_caption(found)}'
            f'<div class="live" tabindex="0" role="group" aria-label="{label}"></div>'
            f'<div class="still" data-still="{safe}"></div>'
            '<div class="reach">'
            f"<details><summary>In words</summary><p>{html.escape(alternative)}</p></details>"
            '<button type="button" data-save="csv" hidden>Data (CSV)</button>'
            '<button type="button" data-save="svg" hidden>Picture (SVG)</button>'
            '<button type="button" data-save="json" hidden>Chart (Vega-Lite)</button>'
            "</div></figure>"
        )

    def _picture(self, found: dict, data: dict) -> str:
        key = html.escape(self._key(found["key"]))
        label = html.escape("Picture: " + found.get("title", ""))
        picture = still_picture(data, found["alternative"])
        picture = f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">{picture}</div>'
        return f'<figure class="picture" id="fig:{key}">{_caption(found)}{picture}</figure>'

    def _table(self, found: dict, data: dict) -> str:
        key = html.escape(self._key(found["key"]))
        caption = f"<caption>{html.escape(found['caption'])}</caption>"
        label = html.escape(found["caption"][:80])
        scroll = f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">'
        body = f"<table>{caption}{harmless(found['body'])}</table>"
        return f'<figure class="table" id="tab:{key}">{scroll}{body}</div></figure>'

    def _equations(self, found: dict, data: dict) -> str:
        return "".join(self._equation(entry) for entry in found["equations"])

    def _equation(self, entry: dict) -> str:
        key = html.escape(self._key(entry["key"]))
        sources = " ".join(f'<a href="#ref:{html.escape(s)}">cite</a>' for s in entry["sources"])
        formula = mathml(entry["latex"], display=True)
        return (
            f'<div class="equation" id="eq:{key}">'
            f'<div class="formula" tabindex="0" role="group" aria-label="Equation">{formula}</div>'
            f'<span class="no"></span><div class="words">{to_html(entry["words"])}{sources}</div></div>'
        )

    def _references(self, found: dict, data: dict) -> str:
        rows = "".join(
            f'<li id="ref:{html.escape(e["key"])}">{harmless(e["html"])}</li>' for e in found["entries"]
        )
        return f'<ul class="references">{rows}</ul>' if rows else "<p>No source was used.</p>"

    def _key(self, key: str) -> str:
        """A key that is used once only; a second use gets a number, so that ids stay unique."""
        tidy = re.sub(r"[^A-Za-z0-9_.-]+", "-", key)
        again, unique = 2, tidy
        while unique in self.used:
            unique, again = f"{tidy}-{again}", again + 1
        self.used.add(unique)
        return unique


def _caption(found: dict) -> str:
    title = html.escape(found.get("title", ""))
    head = f'<span class="headline">{title}</span>' if title else ""
    return f'<figcaption>{head}<b class="no"></b> {html.escape(found.get("caption", ""))}</figcaption>'


def still_picture(data: dict, alternative: str | None = None) -> str:
    """A stored SVG or PNG as a picture: inside ``img`` no script of it can run and nothing is fetched."""
    words = html.escape(alternative if alternative is not None else data.get("text/plain", "picture"))
    if "image/svg+xml" in data:
        coded = base64.b64encode(data["image/svg+xml"].encode("utf-8")).decode("ascii")
        return f'<img alt="{words}" src="data:image/svg+xml;base64,{coded}">'
    coded = re.sub(r"\s+", "", data["image/png"])
    return f'<img alt="{words}" src="data:image/png;base64,{html.escape(coded)}">'


def harmless(text: str) -> str:
    """HTML without anything that runs, fetches or restyles the page; every table header gets its scope."""
    soup = BeautifulSoup(text, "html.parser")
    for tag in soup.find_all(FORBIDDEN):
        tag.decompose()
    for tag in soup.find_all(True):
        for name in list(tag.attrs):
            value = str(tag.attrs[name]).strip().lower()
            fetches = name in ("src", "srcset", "background", "poster") and not value.startswith(
                "data:image/"
            )
            runs = name in ("href", "xlink:href") and not value.startswith(
                ("#", "https://", "http://", "mailto:")
            )
            if name.startswith("on") or name in ("style", "border") or fetches or runs:
                del tag[name]
    for image in soup.find_all("img", src=False):
        image.decompose()
    for header in soup.find_all("th"):
        header.attrs.setdefault("scope", "col" if header.find_parent("thead") else "row")
    return str(soup)


def plain_stream(text: str) -> str:
    """Printed text without terminal colours."""
    return html.escape(COLOURED.sub("", text))
