"""environment.yml and pyproject.toml describe the same environment."""

import re
import tomllib

import pytest
from ruamel.yaml import YAML

from kit.places import PACKAGE

TOP = PACKAGE.parent
# Names that differ between the two worlds, and the parts that an extra of a package stands for.
SAME = {"matplotlib-base": "matplotlib"}
STANDS_FOR_EXTRA = {"brotli": "fonttools"}

pytestmark = pytest.mark.skipif(not (TOP / "pyproject.toml").exists(), reason="not a checkout")


def split(requirement: str) -> tuple[str, str]:
    """Name and version range of a requirement, extras apart."""
    found = re.fullmatch(r"([A-Za-z0-9._-]+)(?:\[[a-z,]+\])?(.*)", requirement)
    return SAME.get(found[1], found[1]), found[2].replace(" ", "")


@pytest.fixture(scope="module")
def project():
    return tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture(scope="module")
def environment():
    entries = YAML(typ="safe").load((TOP / "environment.yml").read_text(encoding="utf-8"))["dependencies"]
    (from_pip,) = (entry["pip"] for entry in entries if isinstance(entry, dict))
    return [entry for entry in entries if isinstance(entry, str)], from_pip


def test_the_same_packages_in_the_same_ranges(project, environment):
    from_conda, from_pip = environment
    ours = dict(split(entry) for entry in [*from_conda, *from_pip] if entry != "-e .")
    python, pip = ours.pop("python"), ours.pop("pip")
    for part, whole in STANDS_FOR_EXTRA.items():
        assert ours.pop(part) == "" and whole in ours
    assert ours == dict(split(entry) for entry in project["dependencies"])
    assert python and pip == ""


def test_python_is_pinned_inside_the_range_of_the_project(project, environment):
    (pinned,) = (entry for entry in environment[0] if entry.startswith("python="))
    assert re.fullmatch(r"python=3\.[0-9]+", pinned)
    least = int(re.fullmatch(r">=3\.([0-9]+)", project["requires-python"])[1])
    assert int(pinned.split(".")[1]) >= least


def test_the_kit_itself_is_installed_from_the_checkout(environment):
    assert environment[1][-1] == "-e ."


def test_every_range_has_a_lower_end(project):
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    assert [entry for group in groups for entry in group if ">=" not in entry] == []
