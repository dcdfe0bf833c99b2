"""An executed notebook becomes one self-contained page that opens, draws and prints without a network."""

from __future__ import annotations

import base64
import html as markup
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

import jinja2
import nbformat
from nbconvert.exporters import TemplateExporter
from traitlets.config import Config

import kit
from kit.writeup import export, mathfont, scripts
from kit.writeup.figures import PART, VEGA_LITE
from kit.writeup.markdown import to_html
from kit.writeup.numbering import number_all
from kit.writeup.parts import Parts, harmless, plain_stream, still_picture
from kit.writeup.stills import Still, still

TEMPLATE = Path(__file__).parent / "template"
MOST_STILL_BYTES = 160_000
"""A still larger than this as SVG is carried as PNG."""


class _Exporter(TemplateExporter):
    """The kit's own nbconvert template, with the filters of one page."""

    def __init__(self, parts: Parts):
        filters = {
            "prose": to_html,
            "part": parts.part,
            "harmless": harmless,
            "still_picture": still_picture,
            "plain_stream": plain_stream,
        }
        order = [PART, VEGA_LITE, "text/markdown", "text/html", "image/svg+xml", "image/png", "text/plain"]
        config = Config({"NbConvertBase": {"display_data_priority": order}})
        super().__init__(
            config=config, template_name="study", extra_template_basedirs=[str(TEMPLATE)], filters=filters
        )

    def _file_extension_default(self) -> str:
        return ".html"

    def _template_extension_default(self) -> str:
        return ".html.j2"

    output_mimetype = "text/html"


def build(
    notebook: Path,
    html: Path,
    *,
    title: str,
    authors: Sequence[Mapping[str, str]] = (),
    banner: str | Sequence[str] | None = None,
    details: Mapping[str, object] | None = None,
    draw: Callable[[Sequence[dict]], Iterable[Still]] | None = None,
) -> Path:
    """Make the page of an executed notebook.

    Parameters
    ----------
    notebook : Path
        As papermill left it.
    html : Path
        The page to write (written beside first, then renamed).
    title : str
        The study's title.
    authors : sequence of mappings
        ``name``, and where given ``affiliation`` and ``orcid``.
    banner : str or sequence of str, optional
        What a reader must know first: failed audits, provisional results. One paragraph an entry.
    details : mapping, optional
        ``purpose`` (a sentence under the title), ``licence``, ``language`` ("en"), ``figures`` (a folder
        for SVG, PNG and Vega-Lite JSON of every chart), ``cache`` (a folder for the shared script),
        ``charts`` ("still": the stills alone, no script at all), ``unresolved`` ("said": a reference to what
        is not there becomes words and a line of the banner; an error without it).
    draw : callable, optional
        Makes the stills of charts, such as several at once; by default one after another, here.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    kit.writeup.numbering.UnresolvedReference
        If the text refers to a figure, table, equation, section or source that is not there.
    kit.writeup.equations.EquationError
        If a formula cannot be set.
    """
    details = dict(details or {})
    parts = Parts()
    executed = nbformat.read(notebook, as_version=4)
    article, _ = _Exporter(parts).from_notebook_node(executed)
    numbered = number_all(article, strict=details.get("unresolved") != "said")
    drawn = draw(parts.charts) if draw else map(still, parts.charts)
    stills = {chart["key"]: made for chart, made in zip(parts.charts, drawn, strict=True)}
    if details.get("figures"):
        export.charts(parts.charts, stills, Path(details["figures"]))
    page = _assemble(
        _with_stills(numbered.article, parts.charts, stills),
        numbered.contents,
        parts,
        details,
        title,
        authors,
        [*_lines(banner, executed), *_missing(numbered.missing)],
    )
    part = html.with_suffix(".part")
    part.write_text(page, encoding="utf-8", newline="\n")
    part.replace(html)
    return html


def _lines(banner: str | Sequence[str] | None, executed) -> list[str]:
    """The banner's paragraphs; a step of the notebook that failed adds one."""
    lines = [banner] if isinstance(banner, str) else list(banner or [])
    return [line for line in dict.fromkeys([*lines, *_failures(executed)]) if line]


def failures(notebook: Path) -> list[str]:
    """What to say of an executed notebook some of whose steps failed; empty where none did."""
    return _failures(nbformat.read(notebook, as_version=4))


def _failures(executed) -> list[str]:
    failed = [
        output
        for cell in executed.cells
        if cell.cell_type == "code"
        for output in cell.outputs
        if output.output_type == "error"
    ]
    if not failed:
        return []
    return [f"{len(failed)} step(s) of this write-up failed; what they would show is missing below."]


def _missing(targets: Sequence[str]) -> list[str]:
    if not targets:
        return []
    return [f"The text refers to what could not be shown in this study: {', '.join(targets)}."]


def _assemble(
    article: str, contents: str, parts: Parts, details: Mapping, title: str, authors, banner
) -> str:
    """The whole page from its parts."""
    loader = jinja2.FileSystemLoader(TEMPLATE / "study")
    environment = jinja2.Environment(
        loader=loader, autoescape=True, trim_blocks=True, keep_trailing_newline=False
    )
    still = details.get("charts") == "still"
    moving = bool(parts.charts) and not still
    bundle = scripts.bundle(details.get("cache")) if moving else ""
    used = [bundle, _text("page.js")] if moving else []
    return environment.get_template("page.html.j2").render(
        title=title,
        authors=list(authors),
        banner=banner,
        purpose=details.get("purpose", ""),
        licence=details.get("licence", ""),
        language=details.get("language", "en"),
        look="stills" if still else "",
        version=kit.__version__,
        policy=scripts.policy(used),
        style=_style(article),
        contents=contents,
        article=article,
        specs="\n".join(_spec(chart) for chart in parts.charts if moving),
        bundle=scripts.packed(bundle) if bundle else "",
        scripts=used[1:],
    )


def _style(article: str) -> str:
    """The style sheet, with the signs that grow where the article has a formula."""
    return (mathfont.rule() if "<math" in article else "") + _text("page.css")


def _text(name: str) -> str:
    return (TEMPLATE / "study" / name).read_text(encoding="utf-8").replace("\r\n", "\n")


def _spec(chart: dict) -> str:
    """A chart's data block; no text in it can end the element."""
    stored = {"spec": packed(chart["spec"]), "layout": chart["layout"]}
    text = json.dumps(stored, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    safe = text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
    return f'<script type="application/json" data-spec="{markup.escape(chart["key"])}">{safe}</script>'


def packed(spec: dict) -> dict:
    """The same chart, its data by column and repeated words once: half the bytes; page.js unpacks it."""
    if "datasets" not in spec:
        return spec
    return spec | {"datasets": {name: _columns(rows) for name, rows in spec["datasets"].items()}}


def _columns(rows: list) -> list | dict:
    if not rows or not isinstance(rows[0], dict) or any(row.keys() != rows[0].keys() for row in rows):
        return rows
    return {"columns": {name: _words_once([row[name] for row in rows]) for name in rows[0]}}


def _words_once(values: list) -> list | dict:
    if not all(isinstance(value, str) for value in values):
        return values
    words = list(dict.fromkeys(values))
    if len(words) > len(values) // 2:
        return values
    place = {word: number for number, word in enumerate(words)}
    return {"words": words, "at": [place[value] for value in values]}


def _with_stills(article: str, charts: list[dict], stills: Mapping[str, Still]) -> str:
    """Put each chart's still where its figure waits for it."""
    for chart in charts:
        key = markup.escape(chart["key"])
        empty = f'data-still="{key}"></div>'
        article = article.replace(
            empty, f'data-still="{key}">{_shown(stills[chart["key"]], chart["alternative"])}</div>', 1
        )
    return article


def _shown(made: Still, alternative: str) -> str:
    if len(made.svg) > MOST_STILL_BYTES:
        return still_picture({"image/png": base64.b64encode(made.png).decode("ascii")}, alternative)
    return made.svg.replace("<svg ", f'<svg role="img" aria-label="{markup.escape(alternative)}" ', 1)
