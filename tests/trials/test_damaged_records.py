"""Damaged records end in values or in a reason, and never in another error: 300 seeded damages of the demo's records."""

import random

import numpy as np
import pytest

from kit.errors import Unusable
from kit.places import carried
from kit.trials.detection import examine
from kit.trials.records import parse_record
from kit.trials.reduction import reduce
from kit.trials.setups import Rig, setup_of
from tests.trials.pieces import beam, plastic, section

SETUP = setup_of(section(), beam(1200.0), plastic(), Rig(2e-5, 3e-5))
ODD = (
    b"1e308;1e308;1e308",
    b"nan\tnan",
    b"inf\tinf",
    b"0,0,0",
    b"-1e300,-1e300,5",
    b"",
    b";;;;",
    b'"',
    b"=1+1",
)


def damaged(content: bytes, kind: str, chance: random.Random) -> bytes:
    if kind == "bytes":
        changed = bytearray(content)
        for _ in range(chance.randint(1, 20)):
            changed[chance.randrange(len(changed))] = chance.randrange(256)
        return bytes(changed)
    if kind == "cut":
        return content[: chance.randrange(len(content))]
    rows = content.split(b"\n")
    if kind == "odd":
        for _ in range(chance.randint(1, 20)):
            rows[chance.randrange(len(rows))] = chance.choice(ODD)
    elif kind == "shuffled":
        chance.shuffle(rows)
    else:
        at, end = sorted((chance.randrange(len(rows)), chance.randrange(len(rows))))
        rows = rows[:at] + rows[end:] + rows[at:end]
    return b"\n".join(rows)


@pytest.mark.parametrize("kind", ["bytes", "cut", "odd", "shuffled", "moved"])
@pytest.mark.filterwarnings("ignore")
def test_damage_ends_in_values_or_in_a_reason(kind):
    chance = random.Random(7)
    names = [f"P0{n}-{letter}.csv" for n in (1, 2, 3) for letter in "ab"]
    contents = [carried(f"params/trials/{name}").read_bytes() for name in names]
    for _ in range(60):
        content = damaged(chance.choice(contents), kind, chance)
        try:
            found = reduce(examine(parse_record("a.csv", content)), SETUP)
        except Unusable as reason:
            assert len(str(reason)) > 15
        else:
            silent = np.isnan([found.peak_load, found.modulus_MPa])
            assert not silent.any() or found.findings
