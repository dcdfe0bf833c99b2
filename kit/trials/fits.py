"""Straight lines and peaks fitted to noisy records, with 95 % intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.special import stdtrit

from kit.sources import carries

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Line:
    """load = slope × (displacement − start); ``error`` is the slope's standard error with ``freedom``."""

    slope: float
    start: float
    error: float
    freedom: float
    straightness: float

    def interval(self) -> tuple[float, float]:
        """95 % interval of the slope."""
        reach = stdtrit(max(self.freedom, 1.0), 0.5 + CONFIDENCE / 2) * self.error
        return self.slope - reach, self.slope + reach


@carries("nist-handbook")
def line(x: np.ndarray, y: np.ndarray) -> Line:
    """Least squares line.

    Neighbouring readings that are alike (an amplifier's filter) count for less: with the lag-one
    correlation r of the residuals, n readings tell as much as n (1 − r)/(1 + r).
    """
    n = len(x)
    dx, dy = x - x.mean(), y - y.mean()
    sxx = float(dx @ dx)
    slope = float(dx @ dy) / sxx
    rest = dy - slope * dx
    alike = _alike(rest)
    told = max(n * (1.0 - alike) / (1.0 + alike), 3.0)
    variance = float(rest @ rest) / max(told - 2.0, 1.0) * told / n
    error = float(np.sqrt(variance / sxx * n / told))
    start = float(x.mean() - y.mean() / slope) if slope else np.nan
    straight = float(np.sqrt(np.mean(rest**2)) / max(np.ptp(y), 1e-300))
    return Line(slope, start, error, told - 2.0, straight)


def _alike(rest: np.ndarray) -> float:
    """Lag-one correlation of residuals, where it stands out of chance."""
    n, power = len(rest), float(rest @ rest)
    if n < 10 or power == 0:
        return 0.0
    r = float(rest[1:] @ rest[:-1]) / power
    return float(np.clip(r, 0.0, 0.98)) if r > 3.0 / np.sqrt(n) else 0.0


def smooth(y: np.ndarray) -> np.ndarray:
    """Running means over a fiftieth of the readings, for finding places and never for values."""
    width = len(y) // 50
    return uniform_filter1d(y, width, mode="nearest") if width > 1 else y


def steepest(x: np.ndarray, y: np.ndarray, share: float = 0.2, steps: int = 40) -> tuple[Line, slice]:
    """The steepest straight stretch of a rising record: a line over ``share`` of the load, and where it lies.

    Parameters
    ----------
    x, y : (n,) arrays
        The rise up to where the stretch may end.
    share : float
        Of the greatest load, which a stretch spans.
    steps : int
        Stretches tried.
    """
    climbed = np.maximum.accumulate(y)
    top = climbed[-1]
    low = max(climbed[0], 0.0)
    begins = low + np.linspace(0.0, max(top - low - share * top, 0.0), steps)
    first = np.searchsorted(climbed, begins)
    last = np.minimum(np.searchsorted(climbed, begins + share * top) + 1, len(x))
    wide = last - first >= 4
    if not wide.any():
        return line(x, y), slice(0, len(x))
    first, last = first[wide], last[wide]
    slopes = _slopes(x, y, first, last)
    best = int(np.argmax(slopes))
    stretch = slice(int(first[best]), int(last[best]))
    return line(x[stretch], y[stretch]), stretch


def _slopes(x, y, first, last) -> np.ndarray:
    """Least squares slopes of many stretches at once, by running sums about the middle."""
    x, y = x - x.mean(), y - y.mean()
    sums = [np.concatenate([[0.0], np.cumsum(v)]) for v in (x, y, x * x, x * y)]
    n = last - first
    sx, sy, sxx, sxy = (s[last] - s[first] for s in sums)
    spread = sxx - sx * sx / n
    return np.where(spread > 0, (sxy - sx * sy / n) / np.where(spread > 0, spread, 1.0), -np.inf)


@dataclass(frozen=True)
class Peak:
    """Greatest load with its standard error and 95 % interval, and where it was reached."""

    load: float
    low: float
    high: float
    displacement: float


@carries("nist-handbook")
def peak_of(x: np.ndarray, y: np.ndarray, peak: int, noise: float) -> Peak:
    """The greatest load of a noisy record.

    The single greatest reading lies above the truth by some of the noise; so a quartic is fitted to the
    readings around it, on both sides of a rounded peak, and up to it where the load then breaks off.

    Parameters
    ----------
    x, y : (n,) arrays
    peak : int
        Index of the greatest reading.
    noise : float
        Standard deviation of a reading.
    """
    if noise <= 1e-6 * abs(y[peak]):
        return Peak(float(y[peak]), float(y[peak]), float(y[peak]), float(x[peak]))
    last = _break_after(y, peak, noise)
    begin, end = _top(y[: last + 1], peak, noise)
    return _quartic(x[begin : end + 1], y[begin : end + 1], noise)


def _break_after(y: np.ndarray, peak: int, noise: float) -> int:
    """Index of the last reading before the load breaks off."""
    falls = -np.diff(y[peak:])
    usual = np.median(np.abs(np.diff(y[: peak + 1])))
    broken = falls > max(8.0 * noise, 0.02 * y[peak], 6.0 * usual)
    return peak + int(np.argmax(broken)) if broken.any() else len(y) - 1


def _top(y: np.ndarray, peak: int, noise: float) -> tuple[int, int]:
    """First and last reading of the top: where running means stay within 4 % of the greatest."""
    means = uniform_filter1d(y, max(len(y) // 25, 1), mode="nearest")
    near = means > means[: peak + 1].max() - max(0.04 * means.max(), 2.0 * noise)
    middle = int(np.argmax(means[: peak + 1]))
    before, after = np.flatnonzero(~near[:middle]), np.flatnonzero(~near[middle:])
    begin = int(before[-1]) + 1 if len(before) else 0
    end = middle + int(after[0]) - 1 if len(after) else len(y) - 1
    return min(begin, max(end - 8, 0)), max(end, min(begin + 8, len(y) - 1))


def _quartic(x: np.ndarray, y: np.ndarray, noise: float) -> Peak:
    """The greatest value of a quartic fitted to the readings, with its interval."""
    middle, half = 0.5 * (x[0] + x[-1]), max(0.5 * (x[-1] - x[0]), 1e-300)
    s = (x - middle) / half
    basis = np.vander(s, 5, increasing=True)
    weights, *_ = np.linalg.lstsq(basis, y, rcond=None)
    rest = y - basis @ weights
    freedom = len(y) - 5
    variance = float(rest @ rest) / freedom if freedom >= 8 else noise**2
    at = np.linspace(-1.0, 1.0, 801)
    values = np.vander(at, 5, increasing=True) @ weights
    best = int(np.argmax(values))
    row = np.vander(at[best : best + 1], 5, increasing=True)[0]
    spread = variance * np.linalg.inv(basis.T @ basis)
    error = np.sqrt(row @ spread @ row)
    reach = float(stdtrit(max(freedom, 4), 0.5 + CONFIDENCE / 2) * error)
    value = float(values[best]) - _raised(weights, spread, at[best])
    return Peak(value, value - reach, value + reach, float(middle + half * at[best]))


def _raised(weights: np.ndarray, spread: np.ndarray, at: float) -> float:
    """How far the top of a fitted curve lies too high on average: variance of its slope ÷ 2 |curvature|."""
    slope = np.array([0.0, 1.0, 2.0 * at, 3.0 * at**2, 4.0 * at**3])
    curvature = 2.0 * weights[2] + 6.0 * weights[3] * at + 12.0 * weights[4] * at**2
    if abs(at) == 1.0 or curvature >= 0:
        return 0.0
    return float(slope @ spread @ slope / (2.0 * abs(curvature)))
