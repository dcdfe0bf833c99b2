"""One small line chart as SVG text, quick enough to follow a control while it is dragged."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

import numpy as np

from kit.teaching.pictures import COLOURS, INK, Svg

GRID = "#e3e8ec"
WIDTH, HEIGHT, LEFT, BELOW = 380, 240, 62, 42


def log_plot(lines: Mapping[str, tuple], marks: Mapping[str, tuple[float, float]], x: str, y: str) -> Svg:
    """Lines and marked points on two logarithmic scales; what is not finite or not positive is left out.

    Parameters
    ----------
    lines : mapping
        Name to (x values, y values).
    marks : mapping
        Name to a point.
    x, y : str
        Titles of the axes, with units.
    """
    sets = {name: _usable(*values) for name, values in {**lines, **marks}.items()}
    everything = np.vstack(list(sets.values())) if sets else np.empty((0, 2))
    alternative = f"{y} against {x}: {', '.join(sets)}"
    if not len(everything):
        return Svg(f"<svg xmlns='http://www.w3.org/2000/svg' width='{WIDTH}' height='40'/>", alternative)
    low, high = np.log10(everything.min(axis=0)) - 0.06, np.log10(everything.max(axis=0)) + 0.06
    body = _axes(low, high, x, y)
    for index, (name, points) in enumerate(sets.items()):
        colour, at = COLOURS[index % len(COLOURS)], _pixels(points, low, high)
        body += _marks(name, at, colour) if name in marks else _path(name, at, colour)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" role="img" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'font-family="sans-serif" font-size="11"><title>{escape(alternative)}</title>'
        f'<rect width="100%" height="100%" fill="#ffffff"/>'
    )
    return Svg(f"{head}{body}</svg>", alternative)


def _usable(x, y) -> np.ndarray:
    points = np.column_stack([np.atleast_1d(np.asarray(x, float)), np.atleast_1d(np.asarray(y, float))])
    return points[np.isfinite(points).all(axis=1) & (points > 0).all(axis=1)]


def _pixels(points: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    share = (np.log10(points) - low) / (high - low)
    return np.column_stack(
        [LEFT + share[:, 0] * (WIDTH - LEFT - 12), (1 - share[:, 1]) * (HEIGHT - BELOW - 12) + 12]
    )


def _path(name: str, at: np.ndarray, colour: str) -> str:
    if not len(at):
        return ""
    ends = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
    # The name stands where nothing else does: left of the upper part of a line that rises, right of one that falls.
    rises = at[-1, 1] < at[0, 1]
    x, y = at[min(len(at) - 1, len(at) * 4 // 5)] if rises else at[len(at) // 2]
    x, y, anchor = (x - 8, y, "end") if rises else (x + 6, y - 6, "start")
    return (
        f'<polyline points="{ends}" fill="none" stroke="{colour}" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}">{escape(name)}</text>'
    )


def _marks(name: str, at: np.ndarray, colour: str) -> str:
    return "".join(
        f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{colour}"/>'
        f'<text x="{min(x + 8, WIDTH - 60):.1f}" y="{y + 14:.1f}" fill="{colour}">{escape(name)}</text>'
        for x, y in at
    )


def _ticks(low: float, high: float) -> list[float]:
    """One, two and five times the powers of ten between two logarithms, at most seven of them."""
    powers = range(int(np.floor(low)), int(np.ceil(high)) + 1)
    found = [digit * 10.0**power for power in powers for digit in (1, 2, 5)]
    inside = [value for value in found if low <= np.log10(value) <= high]
    return inside[:: 1 + len(inside) // 7]


def _axes(low: np.ndarray, high: np.ndarray, x: str, y: str) -> str:
    base, right = HEIGHT - BELOW, WIDTH - 12
    body = ""
    for value in _ticks(low[0], high[0]):
        at = _pixels(np.array([[value, 10 ** low[1]]]), low, high)[0, 0]
        body += f'<path d="M{at:.1f},12V{base}" stroke="{GRID}"/>'
        body += f'<text x="{at:.1f}" y="{base + 15}" text-anchor="middle" fill="{INK}">{value:g}</text>'
    for value in _ticks(low[1], high[1]):
        at = _pixels(np.array([[10 ** low[0], value]]), low, high)[0, 1]
        body += f'<path d="M{LEFT},{at:.1f}H{right}" stroke="{GRID}"/>'
        body += f'<text x="{LEFT - 5}" y="{at + 4:.1f}" text-anchor="end" fill="{INK}">{value:g}</text>'
    body += f'<path d="M{LEFT},12V{base}H{right}" fill="none" stroke="{INK}"/>'
    body += f'<text x="{(LEFT + WIDTH) / 2}" y="{HEIGHT - 8}" text-anchor="middle">{escape(x)}</text>'
    middle = base / 2
    turned = f'transform="rotate(-90 12 {middle})"'
    return body + f'<text x="12" y="{middle}" text-anchor="middle" {turned}>{escape(y)}</text>'
