"""Markdown of the notebook's cells to HTML: no raw HTML passes, formulas become MathML."""

from __future__ import annotations

import html

from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

from kit.writeup.equations import mathml


class Prose(IPythonRenderer):
    """Renders prose: raw HTML is shown as text, pictures only from inside the page, links only sound ones."""

    def __init__(self) -> None:
        super().__init__(escape=True, allow_harmful_protocols=False, exclude_anchor_links=True)

    def inline_math(self, body: str) -> str:
        """A formula in a line."""
        return mathml(body)

    def block_math(self, body: str) -> str:
        """A formula on a line of its own, without a number."""
        formula = mathml(body.strip(), display=True)
        return f'<span class="formula" tabindex="0" role="group" aria-label="Formula">{formula}</span>'

    def latex_environment(self, name: str, body: str) -> str:
        """A LaTeX environment on a line of its own."""
        return self.block_math(f"\\begin{{{name}}}{body}\\end{{{name}}}")

    def block_code(self, code: str, info: str | None = None) -> str:
        """Code as it stands."""
        return f"<pre><code>{html.escape(code)}</code></pre>\n"

    def link(self, text: str, url: str, title: str | None = None) -> str:
        """Links into the page and to the web; of any other only the words."""
        if not url.startswith(("#", "https://", "http://", "mailto:")):
            return text
        return super().link(text, url, title)

    def image(self, text: str, url: str, title: str | None = None) -> str:
        """Pictures would be fetched: only those carried inside the text are shown."""
        if url.startswith(("data:image/png;base64,", "data:image/svg+xml;base64,")):
            return f'<img src="{html.escape(url)}" alt="{html.escape(text)}">'
        return f"<em>{html.escape(text)}</em>"


def to_html(text: str) -> str:
    """HTML of Markdown with formulas between dollar signs."""
    return MarkdownWithMath(renderer=Prose()).render(text)
