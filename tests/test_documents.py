"""The README and the guide say only what is there: verbs, options, result files, modules, paths."""

import importlib
import re
import tomllib

import pytest

from kit.cli import VERBS, parser_of
from kit.outlines.readers import SUFFIXES
from kit.places import PACKAGE
from kit.study import parameters, yaml_reader
from kit.writeup.crate import DESCRIPTOR, MEANINGS

TOP = PACKAGE.parent
pytestmark = pytest.mark.skipif(not (TOP / "README.md").exists(), reason="not a checkout")


def text(name: str) -> str:
    return (TOP / name).read_text(encoding="utf-8") if (TOP / name).exists() else ""


def section(page: str, heading: str) -> str:
    """The text below a heading of the second level, up to the next one."""
    return page.split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]


def first_cells(table: str) -> list[str]:
    """What stands in back quotes in the first column of a table."""
    rows = [line for line in table.splitlines() if line.startswith("| `")]
    return [name for row in rows for name in re.findall(r"`([^`]+)`", row.split(" | ")[0])]


def test_readme_names_every_verb_and_no_other():
    verbs = [name.split()[0] for name in first_cells(section(text("README.md"), "Your own outlines"))]
    assert verbs == [verb.name for verb in VERBS]


def test_readme_names_the_options_of_run(capsys):
    with pytest.raises(SystemExit):
        parser_of().parse_args(["run", "--help"])
    options = set(re.findall(r"--[a-z]+", capsys.readouterr().out)) - {"--help"}
    row = next(line for line in text("README.md").splitlines() if line.startswith("| `run FILE`"))
    assert set(re.findall(r"--[a-z]+", row)) == options


def test_readme_names_every_result_file():
    named = first_cells(section(text("README.md"), "What a study leaves behind"))
    # The printed write-up is made only when it is asked for.
    assert {name for name in named if not name.endswith("/")} == ({*MEANINGS} - {"report.pdf"}) | {DESCRIPTOR}


def test_example_outlines_of_the_readme_are_accepted():
    example = re.search(r"```yaml\n(outlines:.*?)```", text("README.md"), re.DOTALL)[1]
    rest = "study: s\ntitle: t\nmaterial: steel-S235\nload_cases: {tension: {length: 1 m}}\n"
    study = parameters.checked(yaml_reader.parse_yaml(rest + example))
    assert {entry.from_ for entry in study.outlines} == {"fonts", "svg", "dxf", "points", "shape"}


def test_font_formats_of_the_readme_are_read():
    row = next(line for line in text("README.md").splitlines() if "typefaces:" in line)
    formats = {f".{word.lower()}" for word in re.findall(r"\b[A-Z]{3,5}\d?\b", row.split("typefaces:")[1])}
    assert formats and formats <= {end for ends in SUFFIXES.values() for end in ends}


def test_version_to_cite_is_that_of_the_package():
    project = tomllib.loads(text("pyproject.toml"))["project"]
    assert f"version = {{{project['version']}}}" in text("README.md")


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_links_and_paths_lead_somewhere(page):
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text(page)) if "://" not in link]
    paths = re.findall(r"`((?:kit|tests|params|notebooks|\.ci)/[\w./-]*)`", text(page))
    missing = [path for path in links + paths if not (TOP / path).exists()]
    assert [path for path in missing if path != "notebooks/examples/"] == []


def named(dotted: str) -> bool:
    """Whether a module, or a name in one, is there."""
    above, _, name = dotted.rpartition(".")
    try:
        return hasattr(importlib.import_module(above), name) or bool(importlib.import_module(dotted))
    except ModuleNotFoundError:
        return False


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_modules_and_names_in_the_pages_exist(page):
    """Dotted names in back quotes, below ``kit`` or below one of its packages."""
    packages = "outlines|sections|members|study|writeup"
    for dotted in re.findall(rf"`(?:kit\.)?((?:{packages})(?:\.\w+)+)`", text(page)):
        if dotted.endswith((".csv", ".gz", ".html", ".ipynb", ".parquet", ".svg")):
            continue
        assert named(f"kit.{dotted}"), dotted
