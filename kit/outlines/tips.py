"""Long thin tips: where an outline runs out without a neck, over more than a corner's length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from kit.outlines.sides import Sides, dot

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

LONG = 1.5  # a tip longer than so many of its widths is none of a corner of 35 degrees or more
SHORT = 0.015  # of the circle around the outline: a shorter tip is a corner, however sharp
SAMPLES = 800
FINER = 16  # points between two samples, once a tip is found
ROUNDS = 40
HAIR = 1e-6


@dataclass(frozen=True)
class Discs:
    """The widest discs that touch an outline from inside at given points, where they touch it elsewhere.

    Attributes
    ----------
    at : (n, 2) float array, mm
    own, other : (n,) int arrays
        The side of each point, and the one the disc touches next.
    radius : (n,) float array, mm
    contact : (n, 2) float array, mm
        Where it touches the other side.
    """

    at: np.ndarray
    own: np.ndarray
    other: np.ndarray
    radius: np.ndarray
    contact: np.ndarray


def least_tip(sides: Sides, most: float) -> float:
    """Width of the thinnest long tip, mm; the given width where none is thinner.

    The widest disc that touches the outline at a point from inside touches it at a second one too. Where the
    sides run together beyond the chord between the two, there is a tip. If it is longer than 1.5 diameters,
    and than 0.015 of the circle around the outline, it is thinner than the disc over more than a corner's
    length. (Two straight sides 2 β apart: the depth beyond the chord is d cos²β / (2 sin β), 1.5 d for
    2 β = 35 degrees.)

    Parameters
    ----------
    sides : Sides
    most : float, mm
        Width of the narrowest neck or of the widest disc.
    """
    samples = _samples(sides)
    from scipy.spatial import cKDTree  # loads a fifth of a second, in every process that reads outlines

    tree = cKDTree(samples[0])
    coarse = _discs(sides, samples, tree, samples, most)
    found = _thinnest(sides, coarse)
    if found is None:
        return most
    fine = _discs(sides, samples, tree, _between(sides, coarse, found), most)
    finest = _thinnest(sides, fine)
    return float(2 * min(coarse.radius[found], np.inf if finest is None else fine.radius[finest]))


def _between(sides: Sides, discs: Discs, one: int) -> tuple[np.ndarray, np.ndarray]:
    """Points between one sample and the next on both sides of it, and their side."""
    at, own = discs.at[one], discs.own[one]
    place, length = dot(at - sides.start[own], sides.along[own]), dot(sides.end[own] - at, sides.along[own])
    step = _lengths(sides).sum() / SAMPLES
    reach = np.linspace(-min(step, place), min(step, length), 2 * FINER + 1)[1:-1]
    return at + reach[:, None] * sides.along[own], np.full(len(reach), own)


def _thinnest(sides: Sides, discs: Discs) -> int | None:
    """Number of the smallest disc that has a long tip beyond it."""
    start = _along_rings(sides)
    around = 2 * shapely.minimum_bounding_radius(shapely.multipoints(sides.start))
    least = np.maximum(LONG * 2 * discs.radius, SHORT * around)
    first = start[discs.own] + dot(discs.at - sides.start[discs.own], sides.along[discs.own])
    last = start[discs.other] + dot(discs.contact - sides.start[discs.other], sides.along[discs.other])
    round_ = _lengths(sides)[sides.ring[discs.own]]
    out, ahead = _outward(sides, discs)
    begin, stop = np.where(ahead, first, last), np.where(ahead, last, first)
    way = (stop - begin) % round_  # along the outline around the tip
    good = _same_ring(sides, discs) & (way > 2 * least)
    for i in np.flatnonzero(good)[np.argsort(discs.radius[good], kind="stable")]:
        inside = (sides.ring == sides.ring[discs.own[i]]) & ((start - begin[i]) % round_[i] < way[i])
        beyond = sides.start[inside] - (discs.at[i] + discs.contact[i]) / 2
        if (beyond @ out[i]).max(initial=0.0) > least[i]:
            return int(i)
    return None


def _lengths(sides: Sides) -> np.ndarray:
    """Length of each ring, mm."""
    return np.bincount(sides.ring, np.hypot(*(sides.end - sides.start).T))


def _along_rings(sides: Sides) -> np.ndarray:
    """Length along its ring at which each side starts, mm."""
    length = np.hypot(*(sides.end - sides.start).T)
    begins = np.cumsum(length) - length
    return begins - begins[np.searchsorted(sides.ring, sides.ring)]


def _outward(sides: Sides, discs: Discs) -> tuple[np.ndarray, np.ndarray]:
    """Unit vectors across the chords between the two contacts, away from the discs' middles, and whether the
    outline goes on from the first contact that way: else it comes from there."""
    chord = discs.contact - discs.at
    right = np.column_stack([chord[:, 1], -chord[:, 0]]) / np.maximum(np.hypot(*chord.T), 1e-300)[:, None]
    away = chord / 2 - discs.radius[:, None] * sides.inward[discs.own]
    ahead = dot(right, away) >= -HAIR * discs.radius
    return np.where(ahead[:, None], right, -right), ahead


def _same_ring(sides: Sides, discs: Discs) -> np.ndarray:
    return (discs.other >= 0) & (sides.ring[discs.other] == sides.ring[discs.own])


def _discs(sides: Sides, samples, tree: cKDTree, points, most: float) -> Discs:
    """Discs at points of sides, none wider than given; those that touch nothing else have no other side.

    A disc shrinks until it holds none of the samples (Ma, Bae and Choi, The Visual Computer 28, 2012), each
    time to what touches the whole side that a sample in it is of.
    """
    at, own = points
    radius, contact, other = np.full(len(at), most / 2), at.copy(), np.full(len(at), -1)
    live = np.arange(len(at))
    for _ in range(ROUNDS):
        middle = at[live] + radius[live, None] * sides.inward[own[live]]
        away, hit = tree.query(middle, distance_upper_bound=most)
        near = away < (1 - HAIR) * radius[live]
        live, hit = live[near], hit[near]
        if not len(live):
            break
        less, touched = _touching(sides, (at[live], own[live]), (samples[0][hit], samples[1][hit]))
        shrunk = less < radius[live]  # rounding alone can keep it from shrinking
        live, hit = live[shrunk], hit[shrunk]
        radius[live], contact[live], other[live] = less[shrunk], touched[shrunk], samples[1][hit]
    return Discs(at, own, other, radius, contact)


def _samples(sides: Sides) -> tuple[np.ndarray, np.ndarray]:
    """Points inside the sides, evenly spread, at least one on each, and their sides."""
    span = sides.end - sides.start
    length = np.hypot(*span.T)
    count = np.ceil(length * (SAMPLES / length.sum())).astype(int)
    own = np.repeat(np.arange(len(count)), count)
    share = (np.arange(len(own)) - (np.cumsum(count) - count)[own] + 0.5) / count[own]
    return sides.start[own] + share[:, None] * span[own], own


def _touching(sides: Sides, here, there) -> tuple[np.ndarray, np.ndarray]:
    """Radius of the disc that touches one side at a point and another anywhere, and where it touches that.

    Where it comes to the other side from behind, it touches an end of it, or the sample that lies in it.
    """
    (at, own), (sample, other) = here, there
    normal = sides.inward[own]
    with np.errstate(divide="ignore", invalid="ignore"):
        height = dot(at - sides.start[other], sides.inward[other])
        radius = height / (1.0 - dot(normal, sides.inward[other]))
        contact = at + radius[:, None] * (normal - sides.inward[other])
        place = dot(contact - sides.start[other], sides.along[other])
        length = dot(sides.end[other] - sides.start[other], sides.along[other])
        on = (height > 0) & (place >= 0) & (place <= length)
        found, touched = [np.where(on, radius, np.inf)], [contact]
        for point in (sample, sides.start[other], sides.end[other]):
            rise = dot(point - at, normal)
            found.append(np.where(~on & (rise > 0), dot(point - at, point - at) / (2 * rise), np.inf))
            touched.append(point)
    which, row = np.argmin(found, axis=0), np.arange(len(at))
    return np.array(found)[which, row], np.array(touched)[which, row]
