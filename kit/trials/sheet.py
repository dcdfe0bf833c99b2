"""The test sheet: a page to print and to fill in at the machine, with the cautions first."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kit.trials.plan import Needs
from kit.trials.prediction import Prediction, Test

# Common practice, no source.
CAUTIONS = (
    "The rules of the laboratory, the manual of the machine and the person in charge come before this sheet.",
    "Close the guards; stand to the side, never in line with the piece. Wear eye protection, all who watch too.",
    "The piece and the machine store energy up to the peak and give it back at once when it breaks: see the figure for "
    "each piece.",
    "Brittle materials break without warning and throw fragments; cover the piece.",
    "A broken or overturned piece falls: keep feet and hands away, put something soft under it.",
    "Set the limits of travel and load before the first piece; know where the emergency stop is.",
    "Never reach between piece and crosshead while the drive is on.",
    "Predicted peaks are results of a study. The piece may carry more or less.",
)
BLANKS = ("piece no.", "mass [kg]", "width [mm]", "depth [mm]", "length [mm]", "temperature [°C]", "rate [mm/min]",
          "date, time", "operator", "record (file)", "what happened")  # fmt: skip
STYLE = """
body{font:11pt/1.4 system-ui,'DejaVu Sans',sans-serif;color:#1c2430;max-width:178mm;margin:10mm auto;padding:0 4mm}
h1{font-size:16pt}h2{font-size:13pt;margin:0 0 2mm}.piece{break-before:page;padding-top:4mm}
table{border-collapse:collapse;width:100%;margin:3mm 0}th,td{text-align:left;border-bottom:1px solid #c9ced6;
padding:1.2mm 2mm;vertical-align:top}th{font-weight:600;width:42%}.fill td{height:8mm;border-left:1px solid #c9ced6}
.fill th[scope=col]{width:auto}
.warn{border-left:1.2mm solid #b03a12;padding:1mm 3mm;margin:2mm 0}svg{max-height:42mm;max-width:60mm;float:right}
@page{margin:14mm}@media print{body{margin:0;max-width:none}}
"""


@dataclass(frozen=True)
class Planned:
    """One piece of the plan.

    Attributes
    ----------
    name : str
    reason : str
    test : Test
    predicted : Prediction
    needs : Needs
    repeats : int
    """

    name: str
    reason: str
    test: Test
    predicted: Prediction
    needs: Needs
    repeats: int


def test_sheet(title: str, planned: Sequence[Planned], digest: str, notes: Sequence[str] = ()) -> str:
    """The whole sheet as one HTML page that needs no network.

    Parameters
    ----------
    title : str
    planned : sequence of Planned
    digest : str
        Hash of the predictions, to be held against the report's.
    notes : sequence of str
        What must be known about the plan as a whole.
    """
    cautions = "".join(f"<li>{html.escape(text)}</li>" for text in CAUTIONS)
    warned = "".join(f'<p class="warn">{html.escape(note)}</p>' for note in notes)
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Test sheet: {html.escape(title)}</title>'
        f"<style>{STYLE}</style></head><body><h1>Test sheet: {html.escape(title)}</h1><h2>Before anything else</h2>"
        f"<ul>{cautions}</ul>{warned}<p>Predictions were written before any test; their SHA-256 is "
        f"<code>{html.escape(digest)}</code>.</p>{''.join(map(_page, planned))}</body></html>\n"
    )


test_sheet.__test__ = False


def _page(one: Planned) -> str:
    rows = "".join(
        f'<tr><th scope="row">{html.escape(a)}</th><td>{html.escape(b)}</td></tr>' for a, b in _facts(one)
    )
    warned = "".join(f'<p class="warn">{html.escape(text)}</p>' for text in one.needs.warnings)
    heads = "".join(f'<th scope="col">test {number + 1}</th>' for number in range(one.repeats))
    blanks = f"<tr><td></td>{heads}</tr>" + "".join(
        f'<tr><th scope="row">{html.escape(text)}</th>{"<td></td>" * one.repeats}</tr>' for text in BLANKS
    )
    return (
        f'<section class="piece">{_silhouette(one)}<h2>{html.escape(one.name)}</h2><p>{html.escape(one.reason)}.</p>'
        f'<table>{rows}</table>{warned}<table class="fill">{blanks}</table></section>'
    )


def _facts(one: Planned) -> list[tuple[str, str]]:
    case, need, seen = one.test.case, one.needs, one.predicted
    torque = case.kind == "torsion"
    load = (lambda v: _si(v / 1e3, "N m")) if torque else (lambda v: _si(v / 1e3, "kN"))
    travel = _si(np.degrees(seen.stroke), "°") if torque else _si(seen.stroke, "mm")
    facts = [
        ("outline, orientation", f"{one.test.section['outline']}, {one.test.section['orientation_deg']:g}°"),
        ("load case", f"{case.name} ({case.kind})"),
        ("material", one.test.material.name),
        ("tests", str(one.repeats)),
        ("length of the piece", _si(need.length_mm, "mm")),
        ("span or free length", _si(case.length_mm, "mm")),
    ]
    if need.overhang_mm:
        facts.append(("overhang beyond each support", _si(need.overhang_mm, "mm")))
    stock = "" if need.pieces_per_stock is None else f"; {need.pieces_per_stock} from one stock"
    facts += [
        ("blank", " × ".join(f"{value:.1f}" for value in need.blank_mm) + f" mm{stock}"),
        (
            "mass of part, mass of chips",
            f"{need.part_kg:.3g} kg, {need.chips_kg:.3g} kg",
        ),
        ("predicted peak (95 % interval)", f"{load(seen.load)} ({load(seen.low)} to {load(seen.high)})"),
        ("limit state", seen.limit_state),
        ("predicted travel at the peak", travel),
        ("energy stored at the peak", f"{_si(seen.stored_J, 'J')}, up to {_si(seen.stored_high_J, 'J')}"),
        ("load cell of at least", load(need.load_cell_N)),
        ("fixture must carry", load(1.5 * (seen.high if np.isfinite(seen.high) else seen.load))),
    ]
    return facts


def _si(value: float, unit: str) -> str:
    """Three digits, written out: 1440 mm, 3.02 kN."""
    return f"{float(f'{value:.3g}'):.7g} {unit}" if np.isfinite(value) else "not known"


def _silhouette(one: Planned) -> str:
    polygon = one.test.polygon.simplify(0.002 * max(one.test.polygon.bounds[2:]))
    left, bottom, right, top = polygon.bounds
    rings = (polygon.exterior, *polygon.interiors)
    path = "".join("M" + "L".join(f"{x:.2f} {-y:.2f}" for x, y in ring.coords[:-1]) + "Z" for ring in rings)
    return (
        f'<svg viewBox="{left:.2f} {-top:.2f} {right - left:.2f} {top - bottom:.2f}" role="img" aria-label="outline">'
        f'<path d="{path}" fill="#2f4a63" fill-rule="evenodd"/></svg>'
    )
