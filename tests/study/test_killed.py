"""A study killed at any moment goes on with the same command and ends in the same tables."""

import os
import random
import signal
import subprocess
import sys
import time

import pytest

STUDY = """
study: interrupted
title: Interrupted
outlines:
  - {from: fonts, files: "installed:matplotlib/DejaVuSerif.ttf", characters: A-Z}
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 20 mm}}
reference: {outline: bar, orientation: 0 deg}
preparation: {fit: {envelope: [60 mm, 60 mm]}, cutter_radius: 1 mm}
material: aluminium-6060-T66
load_cases:
  bending: {span: 1 m, loading: three-point, supports: forked}
  torsion: {length: 1 m}
"""
TABLES = ("sections.csv", "members.csv", "ranks.csv", "left-out.csv")
KILLS = 10


def command(study, results):
    return [sys.executable, "-m", "kit.cli", "run", str(study), "--results", str(results), "--workers", "2"]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="process groups are killed as POSIX does it")
def test_killed_at_ten_random_moments_then_resumed(tmp_path):
    study = tmp_path / "study.yml"
    study.write_text(STUDY, encoding="utf-8")
    begun = time.monotonic()
    subprocess.run(command(study, tmp_path / "calm"), check=True, capture_output=True)
    whole = time.monotonic() - begun
    moments, killed, runs = random.Random(7), 0, [tmp_path / "killed-1"]
    while killed < KILLS:
        process = subprocess.Popen(
            command(study, runs[-1]), start_new_session=True, stderr=subprocess.DEVNULL
        )
        time.sleep(moments.uniform(0.3, whole))
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            killed += 1
        else:  # it came to its end before the moment: begin another
            runs.append(tmp_path / f"killed-{len(runs) + 1}")
    for run in runs:
        subprocess.run(command(study, run), check=True, capture_output=True)
        for name in TABLES:
            calm, resumed = (folder / "interrupted" / name for folder in (tmp_path / "calm", run))
            assert resumed.read_bytes() == calm.read_bytes(), (run.name, name)
    print(f"killed {killed} times in {len(runs)} runs of about {whole:.0f} s each")
