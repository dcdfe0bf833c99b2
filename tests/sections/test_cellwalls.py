"""Slenderness of walls: by hand, against the buckling of plates of any thickness, and under maps."""

import numpy as np
import pandas as pd
import pytest
from shapely import Polygon, affinity, box

from kit.checks import geometries as shape
from kit.members.shearwalls import plate_critical_stress, tube_critical_stress
from kit.sections.cellwalls import _squared, wall_columns
from kit.sections.section import mirrored, properties, scaled, turned
from kit.sections.solving import sound_rings
from tests.sections.letters import letters
from tests.sections.plate_in_shear import critical_flow
from tests.sections.tube_in_torsion import critical_flow as critical_tube_flow

NAMES = ("cell_wall_b_over_t", "cell_wall_D_over_t", "wall_b_over_t")


def walls(polygon):
    return wall_columns(sound_rings(polygon))


def hollow(outer, *inner):
    return Polygon(outer.exterior, [hole.exterior.coords for hole in inner])


@pytest.mark.parametrize(("side", "t"), [(100.0, 1.0), (200.0, 0.5), (60.0, 5.0)])
@pytest.mark.parametrize("start", range(4))
def test_square_tube_by_its_clear_width(side, t, start):
    """EN 1993-1-5 takes the clear width, (side − 2 t) / t; wherever the rings begin."""
    tube = shape.box(side, t)
    ring = np.roll(np.array(tube.interiors[0].coords)[:-1], start, axis=0)
    found = walls(Polygon(tube.exterior, [ring]))
    assert found["cell_wall_b_over_t"] == pytest.approx((side - 2 * t) / t, rel=0.07)
    same_area = 2 * (side - 2 * t) / np.sqrt(np.pi) + 2 * t
    assert found["cell_wall_D_over_t"] == pytest.approx(same_area / t, rel=0.01)


def test_rectangular_tube_by_its_longer_side():
    tube = hollow(box(0, 0, 200, 80), box(4, 4, 196, 76))
    assert walls(tube)["cell_wall_b_over_t"] == pytest.approx(192 / 4, rel=0.07)


@pytest.mark.parametrize(("diameter", "t"), [(200.0, 2.0), (100.0, 5.0), (100.0, 0.5), (100.0, 30.0)])
def test_round_tube_by_its_diameter(diameter, t):
    found = walls(shape.tube(diameter, diameter - 2 * t))
    assert found["cell_wall_D_over_t"] == pytest.approx(diameter / t, rel=0.02)


@pytest.mark.parametrize("radius", [2.0, 5.0, 10.0])
def test_rounded_corners_end_a_wall_like_sharp_ones(radius):
    def square(low, high, r):
        return shape.rounded([(low, low, r), (high, low, r), (high, high, r), (low, high, r)])

    found = walls(hollow(square(0, 100, radius + 2), square(2, 98, radius)))
    assert found["cell_wall_b_over_t"] == pytest.approx(48.0, rel=0.1)


def test_a_wall_between_two_cells_counts():
    """Cells 40 × 100, walls 5 mm but 1 mm between them."""
    cell = hollow(box(0, 0, 91, 110), box(5, 5, 45, 105), box(46, 5, 86, 105))
    assert walls(cell)["cell_wall_b_over_t"] == pytest.approx(100.0, rel=0.07)


def test_low_pads_inside_do_not_divide_a_wall():
    """Pads of 0.5 mm on a wall of 1 mm are no edges that hold it."""
    inside = box(1, 1, 99, 99).difference(box(30, 0, 40, 1.5)).difference(box(60, 0, 63, 1.5))
    assert walls(hollow(box(0, 0, 100, 100), inside))["cell_wall_b_over_t"] > 90.0


@pytest.mark.parametrize(
    "polygon",
    [shape.i_section(200, 100, 2, 3), shape.channel(200, 60, 2, 2), shape.slit_tube(50.0, 1.0)],
    ids=["I", "channel", "slit tube"],
)
def test_open_walls_belong_to_no_cell(polygon):
    found = walls(polygon)
    assert found["cell_wall_b_over_t"] == found["cell_wall_D_over_t"] == 0.0
    assert found["wall_b_over_t"] > 45.0


def test_web_of_an_i_section_by_its_clear_height():
    assert walls(shape.i_section(600, 200, 6, 12))["wall_b_over_t"] == pytest.approx(576 / 6, rel=0.07)


def test_a_short_neck_is_not_slender():
    """2 mm thick and 20 mm high between two blocks, which a step more at either end hardly lengthens."""
    neck = box(-30, 10, 30, 40).union(box(-30, -40, 30, -10)).union(box(-1, -10, 1, 10))
    assert 9.0 < walls(neck)["wall_b_over_t"] < 15.0


def test_solid_sections_have_stocky_walls():
    assert walls(shape.rectangle(10, 10))["wall_b_over_t"] == pytest.approx(1.0, rel=0.1)


def test_ritz_gives_the_published_coefficient():
    """Timoshenko & Gere: 5.35 for a long plate with simply supported edges; 5.34 in EN 1993-1-5."""
    assert critical_flow(lambda y: 1.0 + 0.0 * y) / np.pi**2 == pytest.approx(5.34, abs=0.01)


PROFILES = {
    "thin in the middle": lambda y: 1 + 1.5 * abs(2 * y - 1),
    "thin at both edges": lambda y: 2.5 - 1.5 * abs(2 * y - 1),
    "tapered": lambda y: 1 + 3 * y,
    "a thin strip in the middle": lambda y: np.where(abs(y - 0.5) < 0.05, 1.0, 2.0),
    "a thin third in the middle": lambda y: np.where(abs(y - 0.5) < 1 / 6, 1.0, 2.0),
    "a thin third at one edge": lambda y: np.where(y < 1 / 3, 1.0, 2.0),
    "two thin thirds": lambda y: np.where(y < 2 / 3, 1.0, 2.0),
    "thick at the edges": lambda y: np.where(abs(y - 0.5) < 0.4, 1.0, 3.0),
}


@pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES)
def test_walls_of_changing_thickness_on_the_safe_side(profile):
    """At the thickness that counts the plate is given less than it bears by Ritz, and no less than 0.4 of it."""
    count = 72
    thickness = profile((np.arange(count) + 0.5) / count)
    given = 5.34 * np.pi**2 * _squared(thickness)[0, -1] * thickness.min()
    borne = critical_flow(lambda y: profile(y) ** 3)
    assert 0.4 * borne < given < borne


def test_an_even_wall_counts_with_its_thickness():
    assert np.sqrt(_squared(np.full(72, 3.0))) == pytest.approx(3.0)


def tube(shape_of, thickness_of, count=61):
    """A closed wall about x, y of the angle: its polygon, and what the shell theory needs."""
    angle = np.linspace(0, 2 * np.pi, 4001)
    x, y = shape_of(angle)
    along = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y))))
    dx, dy = np.gradient(x, angle), np.gradient(y, angle)
    bend = dx * np.gradient(dy, angle) - dy * np.gradient(dx, angle)
    curvature = (bend / np.hypot(dx, dy) ** 3)[5:-5]
    places = np.arange(count) * along[-1] / count
    thickness = thickness_of(np.interp(places, along, angle)) * np.ones(count)
    half = 0.5 * thickness_of(angle[:-1:10]) / np.hypot(dx, dy)[:-1:10]
    normal = np.column_stack([dy[:-1:10], -dx[:-1:10]]) * half[:, None]
    middle = np.column_stack([x[:-1:10], y[:-1:10]])
    polygon = Polygon(middle + normal, [middle - normal])
    return polygon, (along[-1], np.interp(places, along[5:-5], curvature), thickness)


def ellipse(a, b):
    return lambda angle: (a * np.cos(angle), b * np.sin(angle))


def rounded_box(a, b, power=8):
    def of(angle):
        radius = (np.abs(np.cos(angle)) ** power + np.abs(np.sin(angle)) ** power) ** (-1 / power)
        return a * radius * np.cos(angle), b * radius * np.sin(angle)

    return of


def even(t):
    return lambda angle: t + 0.0 * angle


def partly(t, where, below):
    """3 t, and t where the cosine lies above ``where``."""
    return lambda angle: t * (3 - 2 / (1 + np.exp(-below * (np.cos(angle) - where))))


TUBES = {
    "round, thin": (ellipse(50, 50), even(1.0)),
    "round, thick": (ellipse(50, 50), even(6.0)),
    "oval": (ellipse(50, 35), even(2.0)),
    "flat oval": (ellipse(50, 20), even(2.0)),
    "square": (rounded_box(50, 50), even(2.0)),
    "square, thick": (rounded_box(50, 50), even(6.0)),
    "rectangle": (rounded_box(50, 20), even(3.0)),
    "half of it thin": (ellipse(50, 50), partly(2.0, 0.0, 16)),
    "a third of it thin": (ellipse(50, 50), partly(2.0, 0.5, 16)),
    "two thirds of it thin": (ellipse(50, 50), partly(2.0, -0.5, 16)),
    "thin at two ends": (ellipse(35, 50), lambda angle: 2.0 * (1 + 2 * np.cos(angle) ** 2)),
    "thin at two flats": (ellipse(50, 35), lambda angle: 2.0 * (1 + 2 * np.cos(angle) ** 2)),
    "thin at four places": (ellipse(50, 50), lambda angle: 2.0 * (1 + np.cos(2 * angle) ** 2)),
}
WAVES = np.geomspace(0.15, 4.0, 28) / 50.0


def test_shell_theory_gives_the_published_stress_of_a_long_round_tube():
    """Timoshenko & Gere: E / (3√2 (1 − ν²)^¾) (t/r)^1.5."""
    _, shell = tube(ellipse(50, 50), even(1.0), 41)
    theory = (1 / 50) ** 1.5 / (3 * np.sqrt(2) * 0.91**0.75)
    assert critical_tube_flow(*shell, WAVES) == pytest.approx(theory, rel=0.03)


@pytest.mark.parametrize("name", TUBES)
def test_cells_of_any_shape_and_wall_on_the_safe_side(name):
    """Long tubes by shell theory bear more than the lesser of plate and round tube gives, where they are thin."""
    polygon, shell = tube(*TUBES[name])
    found, least = walls(polygon), shell[2].min()
    plate = plate_critical_stress(found["cell_wall_b_over_t"], 1.0, 0.3)
    given = min(plate, tube_critical_stress(found["cell_wall_D_over_t"], 1.0))
    borne = critical_tube_flow(*shell, WAVES) / least
    assert 0.25 * borne < given < 1.02 * borne


@pytest.mark.parametrize("name", ["DejaVu Sans Book/B", "STIXGeneral Regular/O", "DejaVu Serif Book/W"])
def test_maps_of_the_plane_leave_slenderness_alone(name):
    polygon = letters()[name]
    section = properties(polygon, bounds=0.02)
    for moved in (turned(section, polygon, 30.0), mirrored(section, polygon)):
        assert [getattr(moved, n) for n in NAMES] == [getattr(section, n) for n in NAMES]
    fresh = walls(affinity.scale(affinity.rotate(polygon, 30.0, origin=(0, 0)), 3.0, 3.0))
    assert [fresh[n] for n in NAMES] == pytest.approx([getattr(section, n) for n in NAMES], rel=0.02)


def test_scaling_a_table_leaves_slenderness_alone():
    table = pd.DataFrame([properties(shape.box(100.0, 4.0), bounds=0.02).row()])
    assert (scaled(table, 2.0)[list(NAMES)] == table[list(NAMES)]).all(axis=None)


def test_letterforms_are_stocky():
    """Of six typefaces none has a closed cell beyond 16 as a plate and 21 as a tube; S235 may have 72 and 74."""
    found = [walls(polygon) for polygon in letters().values()]
    assert max(one["cell_wall_b_over_t"] for one in found) < 16.0
    assert max(one["cell_wall_D_over_t"] for one in found) < 21.0
