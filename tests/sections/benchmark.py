"""Figures of the section solver, as ratios measured in one run: python -m tests.sections.benchmark [part …]

Against the section analysis of sectionproperties (with numba, warm); and on its own over A–Z of typefaces.
"""

from __future__ import annotations

import os
import platform
import statistics
import sys
import time
import warnings
from importlib.metadata import version

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import numpy as np  # noqa: E402
import scipy  # noqa: E402
from sectionproperties.analysis import Section  # noqa: E402
from sectionproperties.pre import Geometry  # noqa: E402
from shapely import Polygon  # noqa: E402

from kit.sections import area, plastic, sandheap, shear  # noqa: E402
from kit.sections.audit import warping_constant_exactly  # noqa: E402
from kit.sections.laplace import Laplace, factorised, stiffness  # noqa: E402
from kit.sections.mesh import Mesh, mesh_polygon  # noqa: E402
from kit.sections.section import _elastic_moduli, _extremes, properties  # noqa: E402
from kit.sections.solving import solve  # noqa: E402
from kit.sections.torsion import torsion  # noqa: E402
from tests.sections.letters import letters  # noqa: E402

THIRTY = (("DejaVuSerif", "DejaVuSans-Bold"), "A-O")


def best_of(count: int, function) -> float:
    """Least processor time of so many calls, s: other work on the machine disturbs it little."""
    times = []
    for _ in range(count):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return min(times)


def holes(polygon: Polygon) -> tuple[float, ...]:
    return tuple(Polygon(ring).area for ring in polygon.interiors)


def their_section(polygon: Polygon, elements: int) -> Section:
    geometry = Geometry(polygon)
    geometry.create_mesh(mesh_sizes=[2.0 * polygon.area / elements])
    return Section(geometry)


def their_analysis(section: Section) -> None:
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    section.calculate_plastic_properties()


def their_mesh(section: Section) -> Mesh:
    """The mesh of sectionproperties in the kit's order of nodes."""
    triangles = np.array([element.node_ids for element in section.elements], dtype=np.int32)
    return Mesh(np.array(section.mesh["vertices"], dtype=float), triangles)


def our_analysis(polygon: Polygon, mesh: Mesh):
    """The property set of sectionproperties (and, beyond it, the lower bound on J and free plastic axes).

    About the axes x and y and about the principal axes: elastic and plastic moduli, shear areas, monosymmetry.
    """
    m = area.area_moments(polygon)
    edges = area.edges_of(area.rings_of(polygon))
    points = edges[0] - (m.x_mm, m.y_mm)
    elastic = _elastic_moduli(points, m, _extremes(points))
    angle = np.radians(elastic["principal_angle_deg"])
    axes = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned = tuple(ends @ axes.T for ends in edges)
    directions = (edges, plastic.across(edges), turned, plastic.across(turned))
    moduli = plastic.plastic_moduli_of(directions, (1.0,))
    solved = torsion(Mesh(mesh.points - (m.x_mm, m.y_mm), mesh.triangles))
    centre = shear.shear_centre(solved, m)
    Iw = shear.warping_constant(solved, centre)
    flexibility = shear.shear_flexibility(m, solved.shear_energy)
    beta = shear.monosymmetry(m, centre)
    xr2, yr2 = axes @ (m.xr2, m.yr2)
    (x1, y1), I1, I2 = axes @ centre, elastic["I1_mm4"], elastic["I2_mm4"]
    principal = axes @ flexibility @ axes.T, (2.0 * y1 - yr2 / I1, 2.0 * x1 - xr2 / I2)
    return m, moduli, solved, centre, Iw, (elastic, beta, principal), flexibility


def differences(section: Section, ours) -> dict[str, float]:
    """Relative differences; lengths against the section's own size."""
    m, moduli, solved, centre, Iw, (elastic, _, principal), flexibility = ours
    size = np.sqrt(m.area_mm2)
    sx, sy = section.get_sc_t()
    x, y = section.get_c()
    pairs = {
        "area": (m.area_mm2, section.get_area()), "Ix": (m.Ix, section.get_ic()[0]),
        "Iy": (m.Iy, section.get_ic()[1]), "J (upper)": (solved.J_high, section.get_j()),
        "Iw": (Iw, section.get_gamma()), "Asx": (1 / flexibility[0, 0], section.get_as()[0]),
        "Asy": (1 / flexibility[1, 1], section.get_as()[1]),
        "Wpl x": (moduli[0, 0, 0], section.get_s()[0]), "Wpl y": (moduli[1, 0, 0], section.get_s()[1]),
        "Wpl 1": (moduli[2, 0, 0], section.get_sp()[0]),
        "Wel x": (elastic["Wel_x_top_mm3"], section.get_z()[0]),
        "Wel y": (elastic["Wel_y_right_mm3"], section.get_z()[2]),
        "Iw by its rule of six points": (Iw, warping_constant_exactly(section)),
        "As1": (1 / principal[0][0, 0], section.get_as_p()[0]),
    }  # fmt: skip
    found = {name: abs(a / b - 1.0) for name, (a, b) in pairs.items()}
    found["shear centre"] = float(np.hypot(centre[0] - (sx - x), centre[1] - (sy - y))) / size
    return found


def same_mesh() -> None:
    print(
        "\nSame mesh, same property set, mesh time excluded (area, centroid, second moments, principal axes,"
    )
    print(
        "elastic and plastic moduli, J, Iw, shear centre, shear areas for ν = 0, monosymmetry; all about x, y and"
    )
    print(
        "the principal axes; ours has the lower bound on J besides); warm, best of 3 (theirs) and 7 (ours)."
    )
    print(
        "Iw as theirs gives it is apart: it integrates ω², of degree 4, by a rule of degree 3; by its own rule of"
    )
    print("six points, exact for ω², the same ω gives what stands under the other differences.")
    sample = list(letters(*THIRTY).items())[::6]
    warm = their_section(sample[0][1], 100)
    their_analysis(warm)
    ratios, largest, apart = {}, [], []
    for name, polygon in sample:
        for elements in (300, 1500, 6000):
            section = their_section(polygon, elements)
            mesh = their_mesh(section)
            theirs = best_of(3, lambda section=section: their_analysis(section))

            def ours(polygon=polygon, mesh=mesh):
                return our_analysis(polygon, Mesh(mesh.points, mesh.triangles))

            mine = best_of(7, ours)
            found = differences(section, ours())
            as_given = found.pop("Iw")
            apart.append(as_given)
            worst = max(found.items(), key=lambda item: item[1])
            largest.append(worst[1])
            ratios.setdefault(elements, []).append(theirs / mine)
            print(
                f"  {name:24s} {len(mesh.triangles):5d} triangles: {theirs * 1e3:7.1f} ms / "
                f"{mine * 1e3:5.1f} ms = {theirs / mine:5.1f}; largest difference {worst[1]:.1e} ({worst[0]}); "
                f"Iw as given {as_given:.1e}"
            )
    for elements, found in ratios.items():
        print(f"  {elements} triangles asked: median {statistics.median(found):.1f}, least {min(found):.1f}")
    every = [ratio for found in ratios.values() for ratio in found]
    print(f"  all: median {statistics.median(every):.1f}, least {min(every):.1f}")
    print(f"  largest difference {max(largest):.1e}; of Iw as given {max(apart):.1e}")


def same_error() -> None:
    print("\nJ to 0.1 % of the converged value, 30 letterforms, meshing included on both sides")
    sample = letters(*THIRTY)
    ratios, gaps, all_theirs, all_ours = [], [], [], []
    for name, polygon in sample.items():
        exact = solve(polygon, 2e-5, 200_000).J
        bounds = next(b for b in (0.02, 0.01, 0.005, 0.002, 0.001) if _within(solve(polygon, b), exact))
        mine = best_of(5, lambda polygon=polygon, bounds=bounds: solve(polygon, bounds))
        gaps.append(solve(polygon, bounds).gap)
        # Theirs stops at 10 000 triangles: where that is not enough, the ratio is a least value.
        for elements in (100, 200, 400, 800, 1600, 3200, 6400, 10000):
            start = time.process_time()
            again = their_section(polygon, elements)
            again.calculate_geometric_properties()
            again.calculate_warping_properties()
            theirs = time.process_time() - start
            if abs(again.get_j() / exact - 1.0) <= 1e-3:
                break
        ratios.append(theirs / mine)
        all_theirs.append(theirs)
        all_ours.append(mine)
        took = f"{theirs * 1e3:8.0f} ms / {mine * 1e3:5.1f} ms = {ratios[-1]:6.0f}"
        print(f"  {name:24s} {took}; bounds {gaps[-1]:.2%}")
    print(
        f"  ratio: median {statistics.median(ratios):.0f}, least {min(ratios):.0f}; of all thirty's times ",
        end="",
    )
    print(f"{sum(all_theirs) / sum(all_ours):.0f}")
    print(f"  widest bounds {max(gaps):.2%}")


def _within(solved, exact: float) -> bool:
    return solved.gap <= 0.005 and abs(solved.J / exact - 1.0) <= 1e-3


def per_section() -> None:
    print("\nAll properties of a section, bounds on J ≤ 1 %, one core")
    times, gaps, count = [], [], []
    for polygon in letters().values():
        times.append(best_of(3, lambda polygon=polygon: properties(polygon, bounds=0.01)))
        p = properties(polygon, bounds=0.01)
        gaps.append((p.J_high_mm4 - p.J_low_mm4) / p.J_mm4)
        count.append(p.elements)
    print(
        f"  {len(times)} letterforms: median {statistics.median(times) * 1e3:.1f} ms, 90 % below "
        f"{np.quantile(times, 0.9) * 1e3:.1f} ms, longest {max(times) * 1e3:.1f} ms; "
        f"bounds: median {statistics.median(gaps):.2%}, widest {max(gaps):.2%}; "
        f"triangles: median {statistics.median(count):.0f}, most {max(count)}"
    )


def growth() -> None:
    print("\nTime against triangles (solve only, the letter B)")
    polygon = letters(("DejaVuSerif",), "B")["DejaVu Serif Book/B"]
    sizes, times = [], []
    for elements in (200, 1000, 4000, 16000, 50000):
        mesh = mesh_polygon(polygon, elements)
        sizes.append(len(mesh.triangles))
        times.append(best_of(3, lambda mesh=mesh: torsion(Mesh(mesh.points, mesh.triangles), holes(polygon))))
        print(f"  {sizes[-1]:6d} triangles {times[-1] * 1e3:8.1f} ms")
    print(f"  slope (log-log): {np.polyfit(np.log(sizes), np.log(times), 1)[0]:.2f}")


def _factorising(mesh: Mesh) -> tuple[float, float]:
    """Time to assemble, order and factorise both problems, and for the factors alone, s."""
    entries = stiffness(mesh)
    free, fixed = Laplace.free(entries), Laplace.fixed(entries, mesh.loops)

    def both():
        again = stiffness(mesh)
        Laplace.free(again)
        Laplace.fixed(again, mesh.loops)

    def factors():
        factorised(free.matrix)
        factorised(fixed.matrix)

    return best_of(3, both), best_of(3, factors)


def where() -> None:
    print("\nWhere the time goes, summed over the letterforms of one typeface")
    spent = dict.fromkeys(
        (
            "mesh",
            "assembly and order",
            "factorisation",
            "rest of torsion and shear",
            "plastic torque",
            "area and moduli",
        ),
        0.0,
    )
    for polygon in letters(("DejaVuSerif",)).values():
        rings = area.rings_of(polygon)
        mesh = mesh_polygon(polygon, 424, 0.06)
        spent["mesh"] += best_of(3, lambda p=polygon: mesh_polygon(p, 424, 0.06))
        whole = best_of(3, lambda m=mesh, p=polygon: torsion(Mesh(m.points, m.triangles), holes(p)))
        of, factor = _factorising(mesh)
        spent["factorisation"] += factor
        spent["assembly and order"] += of - factor
        spent["rest of torsion and shear"] += whole - of
        spent["plastic torque"] += best_of(
            3, lambda m=mesh, r=rings, p=polygon: sandheap.plastic_torque(m, r, holes(p))
        )
        edges = area.edges_of(rings)
        spent["area and moduli"] += best_of(3, lambda p=polygon: area.area_moments(p)) + 2 * best_of(
            3, lambda e=edges: plastic.plastic_moduli(e)
        )
    total = sum(spent.values())
    for part, seconds in spent.items():
        print(f"  {part:26s} {seconds * 1e3 / 26:6.2f} ms a section {seconds / total:6.1%}")


def main() -> None:
    warnings.simplefilter("ignore")
    print(
        f"{platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}, "
        f"numpy {np.__version__}, scipy {scipy.__version__}, "
        f"sectionproperties {version('sectionproperties')}"
    )
    wanted = sys.argv[1:]
    for part in (same_mesh, per_section, growth, where, same_error):
        if wanted and part.__name__ not in wanted:
            continue
        part()


if __name__ == "__main__":
    main()
