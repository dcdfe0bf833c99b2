"""Which functions of mechanics the published values of sections reach."""

import subprocess
import sys

import pytest

ASK = """
import kit.checks, kit.sources
with kit.sources.recording() as used:
    for compute in kit.checks.registered(["sections"]).values():
        compute()
names = [n for n in kit.sources.REGISTRY if n.startswith("kit.sections.")]
print(*[n for n in names if n not in used and "halfwave" not in n and "audit" not in n])
"""


@pytest.mark.slow
def test_each_function_of_mechanics_is_checked_against_a_published_value():
    """In a process of its own: nothing computed before, nothing remembered."""
    answer = subprocess.run([sys.executable, "-c", ASK], capture_output=True, text=True, check=True)
    assert answer.stdout.split() == []
