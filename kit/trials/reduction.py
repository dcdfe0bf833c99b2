"""From a sound record to its values: toe, modulus with its window, peak, offset yield, energy.

Every choice is kept in :class:`Reduced`, so that it can be drawn on the record.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kit.errors import InputError, Unusable
from kit.sources import carries
from kit.trials import fits
from kit.trials.detection import Sound, noise_of
from kit.trials.findings import NOTED, WITHHELD, Finding
from kit.trials.setups import Setup

# The modulus is taken below this share of the peak, and its stretch is sought below it.
ELASTIC_SHARE, LEAST_SHARE = 0.6, 0.05
LEAST_WINDOW = 8
NOT_STRAIGHT = 0.05
STIFFENS, STIFFENS_OVERALL = 0.10, 0.25
TURNS = 4
BINS = 2000


@dataclass(frozen=True)
class Choices:
    """How records are reduced: compensate the toe, and the strains between which the modulus is taken."""

    toe: bool = True
    window: tuple[float, float] = (0.0005, 0.0025)

    def __post_init__(self):
        if not 0.0 <= self.window[0] < self.window[1]:
            raise InputError(
                f"{self.window[0]:g} to {self.window[1]:g}",
                "trials.reduction.modulus_window",
                "two strains, the lesser first",
            )


@dataclass(frozen=True)
class Reduced:
    """What a record gives. Loads in N (torsion: N mm), travel in mm (rad); NaN: not given, see findings.

    Attributes
    ----------
    stiffness, stiffness_low, stiffness_high : float
        Slope of the record in the window with its 95 % interval.
    toe : float
        Travel at which the straight part, drawn on, meets zero load.
    modulus_MPa, modulus_low_MPa, modulus_high_MPa : float
    window_strain : (low, high)
    window_travel : (low, high)
        As in the record.
    window_points : int
    straightness : float
        Scatter about the line over the load range of the window.
    peak_load, peak_low, peak_high : float
    peak_travel : float
        In the record, toe and machine not taken off.
    stroke : float
        Travel of the piece at the peak, toe and machine taken off.
    yield_load, yield_travel : float
        Where the record meets the line of the stiffness moved by the offset.
    energy : float
        Work on the piece up to the peak, N mm.
    strength_MPa : float
        Elastic stress for the peak load.
    findings : tuple of Finding
    """

    stiffness: float = np.nan
    stiffness_low: float = np.nan
    stiffness_high: float = np.nan
    toe: float = 0.0
    modulus_MPa: float = np.nan
    modulus_low_MPa: float = np.nan
    modulus_high_MPa: float = np.nan
    window_strain: tuple[float, float] = (np.nan, np.nan)
    window_travel: tuple[float, float] = (np.nan, np.nan)
    window_points: int = 0
    straightness: float = np.nan
    peak_load: float = np.nan
    peak_low: float = np.nan
    peak_high: float = np.nan
    peak_travel: float = np.nan
    stroke: float = np.nan
    yield_load: float = np.nan
    yield_travel: float = np.nan
    energy: float = np.nan
    strength_MPa: float = np.nan
    findings: tuple[Finding, ...] = ()


@carries("iso-178", "astm-d790", caveats=("interval-of-reading", "toe-by-line"))
def reduce(sound: Sound, setup: Setup, choices: Choices = Choices()) -> Reduced:
    """Reduce a record.

    Parameters
    ----------
    sound : Sound
    setup : Setup
    choices : Choices

    Raises
    ------
    Unusable
        If its readings cannot be worked with.

    Notes
    -----
    Toe: the steepest straight stretch below 60 % of the peak is drawn on to zero load (as ASTM D790
    does). Modulus: least squares between the two strains of the window (ISO 178), moved where they lie
    above 60 % of the peak or inside the toe.
    """
    try:
        return _reduce(sound, setup, choices)
    except (np.linalg.LinAlgError, ZeroDivisionError, FloatingPointError) as error:
        raise Unusable(f"its readings cannot be worked with ({str(error)[:60]})") from error


def _reduce(sound: Sound, setup: Setup, choices: Choices) -> Reduced:
    rise = slice(0, _elastic_rows(sound))
    x, y = sound.displacement[rise], sound.load[rise]
    found = Reduced(findings=sound.findings)
    if "modulus" not in sound.withheld and len(x) >= LEAST_WINDOW:
        found = _with_modulus(found, (x, y), setup, choices)
    elif "modulus" not in sound.withheld:
        found = _noting(found, "no elastic part", "too few rows on the rise for a modulus", WITHHELD)
    found = _with_peak(found, sound, setup)
    return _with_energy(_with_yield(found, sound, setup), sound, setup)


def _noting(found: Reduced, key: str, text: str, action: str) -> Reduced:
    return replace(found, findings=(*found.findings, Finding(key, text, action)))


def _elastic_rows(sound: Sound) -> int:
    """Rows before the load has reached 60 % of the peak, or has fallen for the first time.

    Read from running means: a single reading would end the rise where its noise is highest.
    """
    f = fits.smooth(sound.load[: sound.peak + 1])
    above = np.flatnonzero(f > ELASTIC_SHARE * sound.load[sound.peak])
    return int(min(above[0] if len(above) else len(f), sound.elastic_end + 1))


def _with_modulus(found: Reduced, rise, setup: Setup, choices: Choices) -> Reduced:
    x, y = rise
    start = int(np.argmax(y > LEAST_SHARE * y[-1]))
    first, stretch = fits.steepest(x[start:], y[start:])
    stretch = slice(stretch.start + start, stretch.stop + start)
    toe = first.start if choices.toe else float(x[0])
    window, moved = _window(rise, (first, stretch, toe), setup, choices)
    fitted = fits.line(x[window], y[window])
    found = replace(found, toe=toe, stiffness=fitted.slope, window_points=window.stop - window.start,
                    straightness=fitted.straightness)  # fmt: skip
    found = _noting(found, "window", moved, NOTED) if moved else found
    level = int(np.argmax(fits.smooth(y) > 0.1 / ELASTIC_SHARE * y[-1]))
    if _stiffens(x[window], y[window], STIFFENS) or _stiffens(x[level:], y[level:], STIFFENS_OVERALL):
        words = "its rise stiffens all the way: no modulus"
        return _noting(replace(found, stiffness=np.nan), "no elastic part", words, WITHHELD)
    # Noise about a straight line is no curve: only what the scatter of neighbours does not explain counts.
    if fitted.straightness > NOT_STRAIGHT and _bent(x[window], y[window], fitted):
        return _noting(replace(found, stiffness=np.nan), "no elastic part", "its rise is not straight within "
                       f"{NOT_STRAIGHT:.0%} of the load in the window: no modulus", WITHHELD)  # fmt: skip
    return _moduli(found, fitted, (x[window], toe), setup)


def _stiffens(x, y, share: float) -> bool:
    """Whether the upper half is steeper than the lower by more than a share and the noise."""
    half = len(x) // 2
    if half < LEAST_WINDOW:
        return False
    lower, upper = fits.line(x[:half], y[:half]), fits.line(x[half:], y[half:])
    # From neighbouring readings: the scatter about a line would take the curve itself for noise.
    error = noise_of(y) / (np.std(x[:half]) * np.sqrt(half)) * np.sqrt(2.0)
    return bool(upper.slope - lower.slope > share * abs(upper.slope) + 4.0 * error)


def _bent(x, y, fitted) -> bool:
    """Whether a curve fits clearly better than the line."""
    s = (x - x.mean()) / max(np.ptp(x), 1e-300)
    rest = y - y.mean() - fitted.slope * (x - x.mean())
    curved = np.polynomial.polynomial.polyfit(s, rest, 3)
    left = rest - np.polynomial.polynomial.polyval(s, curved)
    return float(left @ left) < 0.5 * float(rest @ rest)


def _window(rise, steep, setup: Setup, choices: Choices) -> tuple[slice, str]:
    """Rows between the strains of the window, and why they are others."""
    x, y = rise
    first, stretch, toe = steep
    least, most = (_travel(strain, setup, first.slope) for strain in choices.window)
    low, high = np.searchsorted(np.maximum.accumulate(x), (toe + least, toe + most)) if most > 0 else (0, 0)
    moved = ""
    if not np.isfinite(most):
        moved = "strain is not known here: taken from 10 to 60 % of the peak"
    elif x[-1] < toe + most:
        moved = "the strains of the window lie above 60 % of the peak: taken from 10 to 60 % of it"
    elif high - low < LEAST_WINDOW:
        moved = "fewer than 8 rows between the strains: taken from 10 to 60 % of the peak"
    if moved:
        level = fits.smooth(y)
        low, high = int(np.argmax(level > level[-1] * 0.1 / ELASTIC_SHARE)), len(x)
    return _above_toe(x, y, slice(int(low), int(high)), stretch, moved)


def _travel(strain: float, setup: Setup, slope: float) -> float:
    """Travel in the record beyond the toe at which the piece has a strain."""
    own = 1.0 - setup.other_compliance * slope
    return strain / setup.strain_per_travel / own if own > 0 else np.nan


def _above_toe(x, y, window: slice, stretch: slice, moved: str) -> tuple[slice, str]:
    """The window, begun later where the toe reaches into it: its lower half is then less steep."""
    half = (window.start + window.stop) // 2
    for _ in range(TURNS):
        if half - window.start < LEAST_WINDOW or window.stop - half < LEAST_WINDOW:
            break
        lower, upper = (fits.line(x[part], y[part]) for part in
                        (slice(window.start, half), slice(half, window.stop)))  # fmt: skip
        error = np.hypot(lower.error, upper.error)
        if upper.slope - lower.slope < 4.0 * error + 0.004 * abs(upper.slope):
            break
        begin = max(half, min(stretch.start, window.stop - LEAST_WINDOW))
        window = slice(begin, max(window.stop, min(stretch.stop, len(x))))
        half = (window.start + window.stop) // 2
        moved = "the toe reaches into the window: taken above it"
    return window, moved


def _moduli(found: Reduced, fitted, where, setup: Setup) -> Reduced:
    """Modulus from the slope: E = u / (1/S − C), with its interval."""
    low, high = fitted.interval()
    x, toe = where
    values = [_modulus(slope, setup) for slope in (fitted.slope, low, high)]
    found = replace(found, stiffness_low=low, stiffness_high=high, window_travel=(float(x[0]), float(x[-1])))
    if not np.isfinite(values[0]) or not fitted.slope > 0:
        return _noting(found, "compliance", "the stated compliance is all of the travel measured: no modulus; check "
                       "trials.reduction.compliance", WITHHELD)  # fmt: skip
    own = 1.0 - setup.other_compliance * fitted.slope
    strain = tuple(float((end - toe) * own * setup.strain_per_travel) for end in (x[0], x[-1]))
    if own < 0.5:
        found = _noting(found, "compliance", f"{1 - own:.0%} of the travel is the machine's, and only the rest the "
                        "piece's: the modulus rests on the stated compliance", NOTED)  # fmt: skip
    return replace(found, modulus_MPa=values[0], modulus_low_MPa=values[1], modulus_high_MPa=values[2],
                   window_strain=strain)  # fmt: skip


def _modulus(slope: float, setup: Setup) -> float:
    rest = 1.0 / slope - setup.other_compliance if slope else np.nan
    return setup.unit_compliance / rest if rest > 0 else np.nan


def _with_peak(found: Reduced, sound: Sound, setup: Setup) -> Reduced:
    if "peak" in sound.withheld:
        return found
    peak = fits.peak_of(sound.displacement, sound.load, sound.peak, sound.noise)
    found = replace(found, peak_load=peak.load, peak_low=peak.low, peak_high=peak.high,
                    peak_travel=peak.displacement, strength_MPa=peak.load * setup.stress_per_load)  # fmt: skip
    if "stroke" in sound.withheld or not np.isfinite(found.stiffness):
        return found
    return replace(found, stroke=peak.displacement - found.toe - setup.other_compliance * peak.load)


def _with_yield(found: Reduced, sound: Sound, setup: Setup) -> Reduced:
    """Where the record first meets the line of the stiffness, moved by the offset strain."""
    unknown = not np.isfinite(found.modulus_MPa) or not np.isfinite(setup.strain_per_travel)
    if unknown or "offset" in sound.withheld:
        return found
    x, y = binned(sound.displacement[: sound.peak + 1], sound.load[: sound.peak + 1])
    line = found.stiffness * (x - found.toe - setup.offset_strain / setup.strain_per_travel)
    after = x > found.window_travel[1]
    met = np.flatnonzero(after & (y <= line))
    if not len(met) or met[0] == 0:
        return found
    at = int(met[0])
    gap = (y - line)[at - 1 : at + 1]
    share = gap[0] / (gap[0] - gap[1]) if gap[0] > gap[1] else 1.0
    return replace(found, yield_load=float(y[at - 1] + share * (y[at] - y[at - 1])),
                   yield_travel=float(x[at - 1] + share * (x[at] - x[at - 1])))  # fmt: skip


def _with_energy(found: Reduced, sound: Sound, setup: Setup) -> Reduced:
    """Work on the piece up to the peak: the area under the record, less what the rig stores."""
    if "energy" in sound.withheld or not np.isfinite(found.stroke):
        return found
    x, y = sound.displacement[: sound.peak + 1], sound.load[: sound.peak + 1]
    work = float(np.trapezoid(y, x))
    # The rise up to the first reading, where the record begins under load.
    work += 0.5 * float(np.median(y[:3])) * max(float(x[0]) - found.toe, 0.0)
    return replace(found, energy=work - 0.5 * setup.other_compliance * found.peak_load**2)


def binned(x: np.ndarray, y: np.ndarray, bins: int = BINS) -> tuple[np.ndarray, np.ndarray]:
    """Means of neighbouring rows, at most ``bins`` of them: enough to draw and to cross a line."""
    if len(x) <= bins:
        return x, y
    edges = np.linspace(0, len(x), bins + 1).astype(int)[:-1]
    counts = np.diff(np.append(edges, len(x)))
    return np.add.reduceat(x, edges) / counts, np.add.reduceat(y, edges) / counts


def implausible(stiffness_ratio: float) -> str:
    """Why a measured ÷ predicted stiffness cannot be true, with the slip of units it looks like; empty if it may.

    Stated rule: outside 1/4 to 4 the record is left out. A factor of 1000 is kN for N, 25.4 inches for mm,
    4.45 pounds for N, 9.81 kilograms for N.
    """
    if not np.isfinite(stiffness_ratio) or 0.25 <= stiffness_ratio <= 4.0:
        return ""
    slips = {"kN and N, or m and mm": 1000.0, "inches and mm": 25.4, "pounds and newtons": 4.44822,
             "kilograms and newtons": 9.80665}  # fmt: skip
    size = abs(np.log(stiffness_ratio))
    near = min(slips, key=lambda name: abs(size - np.log(slips[name])))
    guess = f"; {near} may be mixed up" if abs(size - np.log(slips[near])) < 0.4 else ""
    return f"its stiffness is {stiffness_ratio:.3g} times the predicted one{guess}: check units and columns"
