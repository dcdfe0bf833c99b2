"""Polygons in a fraction of their room: whole numbers on a grid far finer than any tolerance, one step at a time.

A prepared polygon has some hundred points, each a short step from the last. Steps counted on a grid take a
quarter of the room of floating-point numbers. Whoever reads a packed polygon works with the rounded one, so two
runs see the same.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
import shapely
from shapely import Polygon

EXACT, PICTURE = 22, 13
"""Bits of the grid: a section (two ten-millionths of its extent), and a picture of one."""
HEAD = struct.Struct("<dI")


def pack(polygon: Polygon, bits: int = EXACT) -> bytes:
    """A polygon as bytes, its coordinates rounded to a grid.

    Parameters
    ----------
    polygon : Polygon
        Coordinates of any unit.
    bits : int
        The grid's step is the power of two next above the greatest coordinate, halved so many times. Where the
        rounded polygon is not valid the grid is made finer.
    """
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    reach = max(float(np.abs(ring).max()) for ring in rings)
    step = 2.0 ** (np.ceil(np.log2(reach)) - bits) if reach else 1.0
    rounded = [np.rint(ring / step).astype(np.int64)[:-1] for ring in rings]
    if bits < 40 and not _polygon(rounded, step).is_valid:
        return pack(polygon, bits + 8)
    steps = np.concatenate([np.diff(ring, axis=0, prepend=0) for ring in rounded])
    planes = steps.astype("<i8").view(np.uint8).reshape(-1, 2, 8).transpose(2, 1, 0)
    sizes = np.array([len(ring) for ring in rounded], dtype="<u4")
    body = sizes.tobytes() + np.ascontiguousarray(planes).tobytes()
    return HEAD.pack(step, len(rings)) + zlib.compress(body, 6)


def unpack(packed: bytes) -> Polygon:
    """The polygon that :func:`pack` made bytes of."""
    step, count = HEAD.unpack_from(packed)
    body = zlib.decompress(packed[HEAD.size :])
    sizes = np.frombuffer(body, "<u4", count)
    planes = np.frombuffer(body, np.uint8, offset=4 * count).reshape(8, 2, -1)
    steps = np.ascontiguousarray(planes.transpose(2, 1, 0)).view("<i8").reshape(-1, 2)
    parts = np.split(steps, np.cumsum(sizes)[:-1])
    return _polygon([np.cumsum(part, axis=0) for part in parts], step)


def _polygon(rings: list[np.ndarray], step: float) -> Polygon:
    shell, *holes = (shapely.linearrings(ring * step) for ring in rings)
    return Polygon(shell, holes)
