"""Is a record sound? What is wrong with it is found by stated rules, and said; see `RULES`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from kit.errors import Unusable
from kit.trials.findings import CORRECTED, NOTED, WITHHELD, Finding
from kit.trials.records import Record

LEAST_POINTS = 20
MOST_SPIKES, SPIKE_ROWS = 0.01, 3
GAP_SHARE = 0.05
SLIP_SHARE, PEAK_SHARE = 0.03, 0.20
PRELOAD_SHARE = 0.20
LATE_START = 0.30
CONTACT_ROWS = 20

RULES = (
    ("gaps", "Rows without a number are left out; a jump in travel above 5 % of the travel at the peak, before the "
     "peak, leaves the record out."),
    ("spikes", "Up to three rows in a row that stick out of their neighbours by more than ten times the noise, 2 % of "
     "the peak and six usual steps are left out; above 1 % of the rows the record is left out."),
    ("saturation", "Five or more equal greatest loads after a slope above 30 % of the elastic one: the load cell or the "
     "amplifier was at its end; peak and energy are withheld."),
    ("preload", "A hold or an unloading below 20 % of the peak is a preload step: the record is read from its end on. "
     "An unloading above that leaves the record out."),
    ("signs", "Displacement and load are each counted positive in the direction of the test."),
    ("contact", "Where 20 or more rows before contact show a steady load, it is the zero of the load."),
    ("exchanged columns", "A load that runs evenly with the rows while the displacement falls back leaves the record "
     "out."),
    ("more than one peak", "After a fall of 20 % or more the greatest load before it is the peak, whatever follows."),
    ("slip", "A fall of 3 to 20 % before a greater load is a slip or a crack: the greatest load is the peak; stroke, "
     "energy and offset yield are withheld, and the modulus where the fall lies below its window's end."),
    ("no peak", "A record that ends before the load has fallen by 10 % has reached no peak, unless the pieces' table "
     "says that the piece broke: peak and energy are withheld."),
    ("no elastic part", "A record that begins above 30 % of its peak, whose rise is not straight within 5 % over its "
     "window, or which stiffens by more than 10 % from its lower to its upper half (25 % from 10 to 60 % of the "
     "peak), gives no modulus."),
)  # fmt: skip


@dataclass(frozen=True)
class Sound:
    """A record made ready to be reduced.

    Attributes
    ----------
    displacement, load : (n,) arrays
        mm and N (rad and N mm), positive in the direction of the test; rows as `rows` of the record.
    rows : (n,) int array
    peak : int
        Index of the peak; loading runs from 0 to it.
    noise : float
        Standard deviation of one reading of the load.
    elastic_end : int
        Index of the first fall, before which the modulus must be taken; `peak` where there is none.
    withheld : frozenset of str
        Values that must not be given: ``peak``, ``energy``, ``stroke``, ``modulus``, ``offset``.
    findings : tuple of Finding
    """

    displacement: np.ndarray
    load: np.ndarray
    rows: np.ndarray
    peak: int
    noise: float
    elastic_end: int
    withheld: frozenset[str] = frozenset()
    findings: tuple[Finding, ...] = ()


def examine(record: Record, broke: bool = False) -> Sound:
    """Find what is wrong with a record, put right what has a stated rule, refuse the rest.

    Parameters
    ----------
    record : Record
    broke : bool
        The pieces' table says that the piece broke, so that the last load counts as a peak.

    Raises
    ------
    Unusable
        With the reason why the record is left out.
    """
    notes = list(record.findings)
    x, f, rows = _without_gaps(record, notes)
    _refuse_exchanged(x, f, _even(record.time_s, rows))
    x, f = _signed(x, f, notes)
    noise = noise_of(f)
    keep = ~(_spikes(f, noise, notes, "load") | _spikes(x, noise_of(x), notes, "displacement"))
    x, f, rows = x[keep], f[keep], rows[keep]
    start = _after_preload(x, f, notes)
    x, f, rows = x[start:], f[start:], rows[start:]
    f = _from_contact(f, noise, notes)
    peak, fall, withheld = _peak(f, noise, notes)
    _refuse_gaps(x, peak)
    withheld |= _saturated(x, f, peak, notes) | _unfinished(f, peak, noise, broke, notes)
    withheld |= _late(f, peak, notes)
    return Sound(x, f, rows, peak, noise_of(f[: peak + 1]), fall, frozenset(withheld), tuple(notes))


def noise_of(load: np.ndarray) -> float:
    """Standard deviation of one reading, from third differences (a smooth curve has nearly none)."""
    if len(load) < 8:
        return 0.0
    # Third differences of white noise have variance 20; the median keeps steps and spikes out.
    return float(1.4826 * np.median(np.abs(np.diff(load, 3))) / np.sqrt(20.0))


def _without_gaps(record: Record, notes: list[Finding]):
    there = np.isfinite(record.displacement) & np.isfinite(record.load)
    lost = int((~there).sum())
    if there.sum() < LEAST_POINTS:
        raise Unusable(f"only {int(there.sum())} rows have numbers; at least {LEAST_POINTS} are needed")
    if lost:
        notes.append(Finding("gaps", f"{lost} rows without a number left out", CORRECTED))
    return record.displacement[there], record.load[there], np.flatnonzero(there)


def _signed(x: np.ndarray, f: np.ndarray, notes: list[Finding]):
    """Both counted positive in the direction of the test."""
    zero_x, zero_f = np.median(x[:5]), np.median(f[:5])
    # The middle of the greatest readings, so that one spike does not turn the sign.
    far = np.argsort(np.abs(f - zero_f))[-max(5, len(f) // 50) :]
    signs = [np.sign(np.median(value[far] - zero)) or 1.0 for value, zero in ((x, zero_x), (f, zero_f))]
    for name, sign in zip(("displacement", "load"), signs, strict=True):
        if sign < 0:
            notes.append(Finding("signs", f"the {name} is counted negative in the record; turned", CORRECTED))
    return x * signs[0], f * signs[1]


def _even(time_s: np.ndarray | None, rows: np.ndarray) -> np.ndarray:
    if time_s is not None and np.isfinite(time_s[rows]).all() and np.ptp(time_s[rows]) > 0:
        return time_s[rows]
    return rows.astype(float)


def _refuse_exchanged(x: np.ndarray, f: np.ndarray, clock: np.ndarray) -> None:
    """Machines move evenly and loads fall at the end; the other way round the columns are exchanged."""
    x, f = np.abs(x - x[0]), np.abs(f - f[0])
    fallen = np.max(x) - x[-1] > 0.2 * np.max(x)
    rising = np.max(f) - f[-1] < 0.02 * np.max(f)
    if fallen and rising and _straightness(clock, f) > 0.999 > _straightness(clock, x):
        raise Unusable(
            "its load runs evenly while its displacement falls back: the columns look exchanged; say which is which "
            "in trials.record_format.columns"
        )


def _straightness(a: np.ndarray, b: np.ndarray) -> float:
    if np.ptp(a) == 0 or np.ptp(b) == 0:
        return 0.0
    return float(np.corrcoef(a, b)[0, 1] ** 2)


def _spikes(f: np.ndarray, noise: float, notes: list[Finding], name: str) -> np.ndarray:
    """Rows that stick out of their neighbours, up or down, for up to three rows."""
    size = SPIKE_ROWS + 1
    up = f - ndimage.grey_opening(f, size=size)
    down = ndimage.grey_closing(f, size=size) - f
    top = np.percentile(f, 99.5) - np.percentile(f, 0.5)
    step = np.median(np.abs(np.diff(f)))
    least = max(10.0 * noise, 0.02 * top, 6.0 * step)
    found = (up > least) | (down > least)
    found[:SPIKE_ROWS] &= up[:SPIKE_ROWS] > least
    found[-SPIKE_ROWS:] = False
    if found.sum() > MOST_SPIKES * len(f):
        raise Unusable(f"{int(found.sum())} of {len(f)} readings of the {name} are spikes; record it again")
    if found.any():
        notes.append(
            Finding("spikes", f"{int(found.sum())} readings of the {name} that stick out left out", CORRECTED)
        )
    return found


def _after_preload(x: np.ndarray, f: np.ndarray, notes: list[Finding]) -> int:
    """Where the last rise from below 20 % of the peak begins; refuses unloading above that."""
    top = int(np.argmax(f))
    if top < LEAST_POINTS:
        raise Unusable(f"only {top} rows up to the greatest load; at least {LEAST_POINTS} are needed")
    travel = x[top] - x[0]
    back = np.maximum.accumulate(x[:top]) - x[:top] > max(0.005 * abs(travel), 8.0 * noise_of(x[:top]))
    span = max(10, top // 200)
    moved = np.abs(x[span : top + 1] - x[: top + 1 - span])
    held = np.zeros(top, dtype=bool)
    held[: len(moved)] = moved[:top] < 0.1 * span * abs(travel) / top
    low = f[:top] < PRELOAD_SHARE * f[top]
    if (back & ~low).any():
        share = f[np.flatnonzero(back & ~low)[0]] / f[top]
        raise Unusable(f"the piece was unloaded at {share:.0%} of its peak: one steady loading is needed")
    above = f[:top] - np.median(f[:5]) > 0.01 * f[top]
    steps = np.flatnonzero((back | (held & above)) & low)
    if (held & ~low).any():
        notes.append(Finding("pause", "the machine paused above 20 % of the peak", NOTED))
    if not len(steps):
        return 0
    last = int(steps[-1])
    start = last + (span if held[last] and not back[last] else 1)
    notes.append(Finding("preload", f"a preload step: {start} rows before the main rise left out", CORRECTED))
    return start


def _from_contact(f: np.ndarray, noise: float, notes: list[Finding]) -> np.ndarray:
    """The load counted from its steady value before contact, where there is one."""
    top = float(f.max())
    if not top > 0:
        raise Unusable("its load never rises above zero")
    rise = f - np.median(f[:5]) > max(8.0 * noise, 0.005 * top)
    first = 2 * max(int(np.argmax(rise)) - 5, 0) // 3  # well before contact: the toe creeps upwards
    offset = float(np.mean(f[:first])) if first >= CONTACT_ROWS else float(np.median(f[:5]))
    if first >= CONTACT_ROWS and abs(offset) < 0.05 * top and not _creeps(f[:first]):
        if abs(offset) > max(5.0 * float(np.std(f[:first])) / np.sqrt(first), 1e-4 * top):
            words = f"load zero from {first} rows before contact ({offset:+.3g})"
            notes.append(Finding("contact", words, CORRECTED))
            return f - offset
        return f
    if abs(offset) > 0.01 * top:
        words = f"the load begins at {offset / top:.1%} of its peak and is taken as it stands"
        notes.append(Finding("contact", words, NOTED))
    return f


def _creeps(still: np.ndarray) -> bool:
    """Whether readings rise by more than a third of their mean: a toe does, a load cell off zero stands still."""
    row = np.arange(len(still)) - (len(still) - 1) / 2
    trend = abs(row @ still / (row @ row)) * len(still)
    return bool(trend > abs(np.mean(still)) / 3.0)


def _peak(f: np.ndarray, noise: float, notes: list[Finding]) -> tuple[int, int, set[str]]:
    """Index of the peak, index of the first fall before it, and what a fall withholds."""
    top = int(np.argmax(f))
    highest = np.maximum.accumulate(f[: top + 1])
    fallen = highest - f[: top + 1]
    great = fallen > np.maximum(PEAK_SHARE * highest, 10 * noise)
    great &= highest > 0.3 * f[top]
    if great.any():
        first = int(np.argmax(great))
        peak = int(np.argmax(f[:first]))
        fall = float(fallen[: top + 1].max() / f[peak])
        notes.append(Finding("more than one peak", f"the load fell by {fall:.0%} and rose again to a greater load of "
                             f"{f[top]:.4g}; the first peak counts", CORRECTED))  # fmt: skip
        return peak, peak, set()
    slip = fallen > max(SLIP_SHARE * f[top], 10 * noise)
    if slip.any():
        first = int(np.argmax(slip))
        at = int(np.argmax(f[:first]))
        notes.append(Finding("slip", f"the load fell by {fallen.max() / f[top]:.0%} of the peak at {f[at]:.4g} and rose "
                             "again: slipped or cracked; stroke, energy and offset yield not given", WITHHELD))  # fmt: skip
        return top, at, {"stroke", "energy", "offset"}
    return top, top, set()


def _refuse_gaps(x: np.ndarray, peak: int) -> None:
    step = np.diff(x[: peak + 1])
    travel = x[peak] - x[0]
    if not travel > 0:
        raise Unusable("its displacement does not advance up to the peak")
    wide = step > max(GAP_SHARE * travel, 10.0 * abs(travel) / max(peak, 1))
    if peak < LEAST_POINTS:
        raise Unusable(f"only {peak} rows up to the peak; at least {LEAST_POINTS} are needed")
    if wide.any():
        at = int(np.argmax(wide))
        raise Unusable(
            f"a gap of {step[at] / travel:.0%} of the travel at the peak lies before it (at row {at})"
        )


def _saturated(x: np.ndarray, f: np.ndarray, peak: int, notes: list[Finding]) -> set[str]:
    """Equal greatest readings behind a steep rise: the measuring chain was at its end."""
    equal = np.flatnonzero(f >= f[peak] - 1e-9 * abs(f[peak]))
    run = 1 + int(np.argmin(np.append(np.diff(equal[equal >= peak]) == 1, False)))
    if run < 5 or peak < 20:
        return set()
    before = max(5, peak // 50)
    steep = (f[peak] - f[peak - before]) / max(x[peak] - x[peak - before], 1e-15)
    half = int(np.argmax(f > 0.5 * f[peak]))
    usual = f[half] / max(x[half] - x[int(np.argmax(f > 0.2 * f[peak]))], 1e-15) * 0.6
    if steep < 0.3 * usual:
        return set()
    notes.append(Finding("saturation", f"{run} equal greatest readings behind a steep rise: the load cell or amplifier "
                         "was at its end; peak and energy not given", WITHHELD))  # fmt: skip
    return {"peak", "energy", "stroke"}


def _unfinished(f: np.ndarray, peak: int, noise: float, broke: bool, notes: list[Finding]) -> set[str]:
    after = f[peak:]
    if broke or (len(after) > 1 and after.min() < 0.9 * f[peak]):
        return set()
    # A flat or falling top is a peak even where the test was stopped soon after it.
    flat = len(after) >= 10 and np.median(after[-5:]) < f[peak] - max(4.0 * noise, 0.005 * f[peak])
    if flat:
        return set()
    notes.append(Finding("no peak", "the record ends before the load has fallen: no peak is given", WITHHELD))
    return {"peak", "energy", "stroke"}


def _late(f: np.ndarray, peak: int, notes: list[Finding]) -> set[str]:
    share = float(np.median(f[:3]) / f[peak])
    if share < LATE_START:
        return set()
    notes.append(
        Finding("no elastic part", f"the record begins at {share:.0%} of its peak: no modulus", WITHHELD)
    )
    return {"modulus", "energy", "stroke", "offset"}
