"""Equations: MathML that is right, errors for what is unknown, a registry that holds together."""

import subprocess
import sys

import pytest

from kit.sources import REGISTRY, bibliography
from kit.writeup import equations
from kit.writeup.markdown import to_html


def test_upright_subscripts_stay_upright():
    assert 'mathvariant="normal"' in equations.mathml(r"W_\mathrm{p}")


def test_aligned_equations_keep_both_lines():
    made = equations.mathml(r"\begin{aligned} a &= b \\ c &= d \end{aligned}", display=True)
    assert made.count("<mtr>") == 2


@pytest.mark.parametrize("latex", [r"\unknowncommand{x}", r"\frac{a}{", "{"])
def test_what_cannot_be_set_is_an_error(latex):
    with pytest.raises(equations.EquationError, match="cannot set the formula"):
        equations.mathml(latex)


def test_a_formula_never_makes_a_link():
    assert "href=" not in equations.mathml(r"\href{https://x.org}{y}")


@pytest.mark.parametrize("key", list(equations.registry()))
def test_every_equation_of_the_methods_can_be_set(key):
    equation = equations.registry()[key]
    assert equations.mathml(equation.latex, display=True).startswith("<math")
    assert "<math" in to_html(equation.words) or "$" not in equation.words


def test_every_equation_names_sources_that_exist():
    named = {source for equation in equations.registry().values() for source in equation.sources}
    assert named <= set(bibliography())


def test_every_function_an_equation_names_exists():
    import kit.members.interaction
    import kit.members.merit
    import kit.sections.halfwave_beam
    import kit.trials.annex_d
    import kit.trials.reduction  # noqa: F401

    named = {name for equation in equations.registry().values() for name in equation.functions}
    assert named - set(REGISTRY) == set()


def test_only_the_equations_of_what_ran_are_chosen():
    chosen = equations.of(["kit.members.tension.assess"])
    assert chosen == ["merit"]
    assert "torsion-below" in equations.of(["kit.sections.torsion.torsion"])


def test_an_unknown_key_is_named():
    with pytest.raises(KeyError, match="no-such-key"):
        equations.show("no-such-key")


def test_the_engine_lets_the_process_end():
    code = "from kit.writeup.markdown import to_html; to_html('$x$'); print('set')"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.strip() == "set"
