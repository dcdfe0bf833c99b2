"""A thousand typefaces: time, memory and room of a study over 26,000 sections, measured and printed.

The faces are the shipped ones under seeded small distortions, made in a temporary folder and never kept:
``python -m tests.study.benchmark_scale --faces 12 120 1000``. Nothing here asserts a time.
"""

from __future__ import annotations

import argparse
import io
import string
import subprocess
import sys
import tempfile
import threading
import time
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

STUDY = """
study: scale
title: A thousand distorted typefaces
outlines:
  - {{from: fonts, files: "faces/*.ttf", characters: A-Z}}
  - from: shape
    name: plain-i
    shape: i-section
    dimensions: {{depth: 100 mm, width: 100 mm, flange: 12 mm, web: 12 mm}}
reference: {{outline: plain-i, orientation: 0 deg}}
preparation: {{fit: {{envelope: [100 mm, 100 mm]}}, cutter_radius: 1 mm, orientations: [0 deg, 90 deg]}}
material: aluminium-5083-H112
load_cases:
  bending: {{span: {span}, loading: three-point, supports: forked}}
  compression: {{length: 1 m, column_curve: perry-robertson, bow: 1/500}}
  tension: {{length: 1 m}}
  torsion: {{length: 1 m}}
accuracy: {{torsion_bounds: 1 %}}
ranking: {{group_by: [character, family]}}
"""


def shipped() -> list[bytes]:
    """The shipped faces that hold A to Z, cut down to these letters."""
    folder = Path(find_spec("matplotlib").submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"
    faces = []
    for file in sorted(folder.glob("*.ttf")):
        font = TTFont(file)
        glyphs = {font.getBestCmap().get(ord(letter)) for letter in string.ascii_uppercase} - {None}
        if (
            len(glyphs) < len(string.ascii_uppercase) or "glyf" not in font
        ):  # one box for every letter is none
            continue
        cut = Subsetter(Options(notdef_outline=True, layout_features=[], hinting=False))
        cut.populate(unicodes=list(map(ord, string.ascii_uppercase)))
        cut.subset(font)
        saved = io.BytesIO()
        font.save(saved)
        faces.append(saved.getvalue())
    return faces


def distort(face: bytes, seed: int) -> TTFont:
    """A face stretched, slanted and waved a little, under a name of its own."""
    generator = np.random.default_rng(seed)
    stretch, slant = generator.uniform(0.85, 1.2), generator.uniform(-0.1, 0.15)
    waves = generator.uniform(0, 2 * np.pi, 2)
    font = TTFont(io.BytesIO(face))
    size = font["head"].unitsPerEm
    for name in font.getGlyphOrder():
        glyph = font["glyf"][name]
        if glyph.numberOfContours <= 0:
            continue
        points = np.array(glyph.coordinates, dtype=float)
        x = (
            points[:, 0] * stretch
            + points[:, 1] * slant
            + 0.004 * size * np.sin(points[:, 1] / size * 6 + waves[0])
        )
        y = points[:, 1] + 0.004 * size * np.sin(points[:, 0] / size * 6 + waves[1])
        for place, (a, b) in enumerate(np.rint(np.column_stack([x, y])).astype(int).tolist()):
            glyph.coordinates[place] = (a, b)
    for record in font["name"].names:
        record.string = f"Face {seed:04d}" if record.nameID in (1, 4, 6, 16) else "Regular"
    return font


def make_faces(folder: Path, count: int) -> None:
    """Write so many distorted faces."""
    folder.mkdir(parents=True)
    faces = shipped()
    for seed in range(count):
        distort(faces[seed % len(faces)], seed).save(folder / f"face-{seed:04d}.ttf")


class Watching:
    """The greatest resident memory of a process and all below it, MB, sampled while the block runs."""

    def __init__(self, process: subprocess.Popen):
        self.process, self.greatest = process, 0.0
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Watching:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._end.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._end.wait(0.5):
            self.greatest = max(self.greatest, sum(map(_private, _family(self.process.pid))))


def _family(pid: int) -> list[int]:
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        tasks = [int(path.name) for path in Path(f"/proc/{pid}/task").iterdir() if int(path.name) != pid]
        for task in tasks:
            children += Path(f"/proc/{pid}/task/{task}/children").read_text().split()
    except OSError:
        return []
    return [pid, *(one for child in children for one in _family(int(child)))]


def _private(pid: int) -> float:
    """Proportional set size, MB: shared libraries are shared out, so that a sum means something."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024


def run(study: Path, results: Path, workers: int) -> tuple[float, float]:
    """Seconds and greatest memory (MB) of one run of the command."""
    command = [
        sys.executable,
        "-m",
        "kit.cli",
        "run",
        str(study),
        "--results",
        str(results),
        "--workers",
        str(workers),
    ]
    begun = time.monotonic()
    process = subprocess.Popen(command)
    with Watching(process) as watching:
        status = process.wait()
    if status not in (0, 3):
        raise SystemExit(f"the run ended with status {status}")
    return time.monotonic() - begun, watching.greatest


def kept(folder: Path) -> float:
    """Size of everything below a folder, MB."""
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file()) / 1e6


def measured(faces: int, workers: int) -> float:
    """Seconds of the first run over so many faces; prints everything measured."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        make_faces(folder / "faces", faces)
        study = folder / "scale.yml"
        study.write_text(STUDY.format(span="1 m"))
        first, memory = run(study, folder / "results", workers)
        print(f"{faces} distorted shipped faces × A–Z on {workers} workers: {first:.0f} s at first")
        print(f"greatest memory over all processes: {memory:.0f} MB; kept: {kept(folder / 'results'):.0f} MB")
        print(f"write-up: {(folder / 'results/scale/report.html').stat().st_size / 1e6:.2f} MB")
        study.write_text(STUDY.format(span="1200 mm"))
        again, _ = run(study, folder / "results", workers)
        print(f"another span, no section computed again: {again:.0f} s, {again / first:.2f} of the first")
    return first


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, nargs="+", default=[1000])
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    times = [measured(faces, options.workers) for faces in options.faces]
    if len(times) > 2:
        slope, start = np.polyfit(options.faces, times, 1, w=1 / np.array(times))
        line = start + slope * np.array(options.faces)
        print(
            f"{start:.0f} s and {slope / 26 * 1e3:.0f} ms an outline; from this line the runs are off by",
            end=" ",
        )
        print(
            ", ".join(f"{100 * (time / along - 1):+.0f} %" for time, along in zip(times, line, strict=True))
        )


if __name__ == "__main__":
    main()
