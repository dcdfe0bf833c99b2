"""A small notebook that calls every function of the write-up, and what its page is built with."""

from __future__ import annotations

from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from tests.writeup import invented

SETTINGS = {
    "title": "Which outline makes the best boardwalk bearer?",
    "authors": [
        {
            "name": "A. Author",
            "affiliation": "An invented nature reserve's workshop",
            "orcid": "0000-0000-0000-0000",
        },
        {"name": invented.HOSTILE},
    ],
    "banner": ["One audit failed: J of heron lies outside its bounds (invented)."],
}
DETAILS = {
    "purpose": "Thirty-four invented sections in bending and compression, to test how a write-up looks.",
    "licence": "CC-BY-4.0",
}
CELLS = [
    "# A title that the page replaces\n\nAll numbers on this page are invented.",
    """>from tests.writeup import invented
from kit.writeup import charts, citations, equations, tables
shapes = invented.polygons()
sections = invented.sections(shapes)
members = invented.members(sections)""",
    "## Summary",
    """>best = members.loc[members["merit"].idxmax()]
tables.prose(
    "The best is **{name}**: {merit} times the load of the reference at its mass "
    "([Figure](#fig:load-against-mass)). An author called {author} is shown as text.",
    name=best["outline"], merit=tables.number(best["merit"], low=1.5, high=1.7), author=invented.HOSTILE,
)""",
    """## Methods

### Sections

The second moment $I_x$ follows [Equation](#eq:second-moments); bounds on torsion are due to
[cite](#ref:diaz-weinstein-1948). Results stand in [Section](#sec:results), properties in
[Table](#tab:sections).""",
    ">equations.show(*equations.registry())",
    "A formula by itself:\n\n$$M_\\mathrm{pl} = f_y\\,W_\\mathrm{pl}$$\n\n- first\n- second\n",
    """>shown = sections[["outline", "character", "area_mm2", "Ix_mm4", "J_mm4", "Wel_x_free_mm3"]]
tables.table(shown, "sections", "Section properties (invented).", most=12)""",
    "## Results\n\n### Load against mass",
    """>lines = invented.lines(members)
charts.load_against_mass(members, shapes, lines=lines, reference="plain-i")""",
    "### Merit",
    ">charts.merit_by_outline(members, shapes)",
    "### Limit states",
    ">charts.limit_state_map(members, shapes)",
    "### Ranks",
    ">charts.rank_intervals(invented.ranks(members))",
    "## Verification",
    ">charts.published_checks(invented.checks())",
    ">charts.bounds_on_J(sections, asked=0.005)",
    "## Caveats",
    ">citations.caveats_table([], members)",
    "## References",
    '>citations.references(equations.sources(), extra=["diaz-weinstein-1948", "pilkey-2002"])',
]


def executed() -> nbformat.NotebookNode:
    """The notebook, run by a kernel of its own."""
    cells = [new_code_cell(text[1:]) if text.startswith(">") else new_markdown_cell(text) for text in CELLS]
    notebook = new_notebook(cells=cells)
    top = str(Path(__file__).parents[2])
    NotebookClient(
        notebook, timeout=120, kernel_name="python3", resources={"metadata": {"path": top}}
    ).execute()
    return notebook
