"""Exercises of the further examples. Answers are closed forms, written out here; nothing is taken from the kit."""

from __future__ import annotations

from math import atan2, degrees, pi, radians, sqrt

from kit.teaching.exercises import Exercise, Numbers, bank, shown


@bank("unsymmetric-bending")
def unsymmetric_bending(n: Numbers) -> tuple[Exercise, ...]:
    ix, iy, ixy = (
        n.between("ix", 3e6, 5e6, 1e5),
        n.between("iy", 1e6, 2e6, 1e5),
        n.between("ixy", 5e5, 1.2e6, 1e5),
    )
    flange, depth = n.between("flange", 40, 80, 5), n.between("depth", 80, 160, 10)
    turn = degrees(atan2(ixy, iy))
    return (
        Exercise(
            f"Ix = {shown(ix)}, Iy = {shown(iy)}, Ixy = {shown(ixy)} mm⁴. A moment about x acts and the member is free to move "
            "sideways. At which angle from x, counter-clockwise in degrees, lies the neutral axis?",
            turn,
            "The stress goes with Iy y − Ixy x; it is zero on the line y = (Ixy / Iy) x.",
            (
                (degrees(atan2(ixy, ix)), "Divide by Iy, not by Ix."),
                (-0.5 * degrees(atan2(2 * ixy, ix - iy)), "That is the angle of the principal axis."),
                (radians(turn), "That is the angle in radians."),
            ),
        ),
        Exercise(
            f"A thin channel of even wall, flanges {flange:g} mm and depth {depth:g} mm along the middle line of its wall. "
            "How far from the middle line of the web lies its shear centre, in mm?",
            3 * flange**2 / (depth + 6 * flange),
            "The flanges' shear flows make a couple: e = b² h² t / (4 Ix), Ix = t h³/12 + t b h²/2.",
        ),
    )


@bank("corners")
def corners(n: Numbers) -> tuple[Exercise, ...]:
    short, long = n.between("short", 20, 50, 5), n.between("long", 60, 120, 10)
    diameter, wall = n.between("diameter", 60, 120, 10), n.between("wall", 5, 12, 1)
    outer, inner = diameter / 2, diameter / 2 - wall
    return (
        Exercise(
            f"Sand is heaped on a plate of {short:g} × {long:g} mm at a slope of 1. Twice its volume, in mm³, is the plastic "
            "torsion modulus. How much is that?",
            short**2 * (3 * long - short) / 6,
            "A ridge of length a − b at height b/2 with half a pyramid at each end: V = b² (3a − b) / 12.",
            ((short**2 * (3 * long - short) / 12, "That is the volume itself."),),
        ),
        Exercise(
            f"A round tube, {diameter:g} mm outside, wall {wall:g} mm: what is its plastic torsion modulus T_pl / k, in mm³?",
            2 * pi * (outer**3 - inner**3) / 3,
            "Every ring of the section carries k: ∫ r k 2πr dr from the inner to the outer radius.",
            ((pi * (outer**4 - inner**4) / (2 * outer), "That is the torque at first yield."),),
        ),
    )


@bank("thin-walls")
def thin_walls(n: Numbers) -> tuple[Exercise, ...]:
    width, wall, strength = (
        n.between("width", 80, 160, 10),
        n.between("wall", 1, 2, 0.25),
        n.between("strength", 200, 350, 10),
    )
    stress = 4 * pi**2 * 70000 / (12 * (1 - 0.33**2)) * (wall / width) ** 2
    slender = sqrt(strength / stress)
    return (
        Exercise(
            f"A wall {width:g} mm wide and {wall:g} mm thick, simply supported along both edges, E = 70 000 MPa, ν = 0.33. "
            "At which stress, in MPa, does it buckle?",
            stress,
            "σ = 4 π² E / (12 (1 − ν²)) · (t/b)².",
            (
                (
                    stress * (1 - 0.33**2),
                    "The factor 1 − ν² is missing: a plate cannot narrow as a strip can.",
                ),
                (stress / 4, "The 4 in front is missing."),
            ),
        ),
        Exercise(
            f"The same wall's strength is {strength:g} MPa. Which share of it does the buckled wall carry by Winter's curve?",
            (slender - 0.22) / slender**2,
            "λ = √(f / σ_cr), share (λ − 0.22) / λ².",
            (
                (
                    1 / slender**2,
                    "That is the critical stress over the strength; a buckled wall carries more.",
                ),
            ),
        ),
    )


@bank("test-records")
def test_records(n: Numbers) -> tuple[Exercise, ...]:
    span, second_moment = n.between("span", 400, 800, 50), n.between("second_moment", 1e6, 3e6, 1e5)
    slope = n.between("slope", 800, 2000, 100)
    toe, low, high = (
        n.between("toe", 0.3, 1.2, 0.1),
        n.between("low", 200, 400, 50),
        n.between("high", 800, 1200, 50),
    )
    first, second = round(toe + low / slope, 4), round(toe + high / slope, 4)
    del n.given["toe"]
    n.given |= {"first": first, "second": second}
    return (
        Exercise(
            f"A beam spans {span:g} mm, Ix = {shown(second_moment)} mm⁴. Its record rises by {slope:g} N per mm of travel. What "
            "is its modulus in MPa, bending only?",
            slope * span**3 / (48 * second_moment),
            "F / δ = 48 E I / L³.",
        ),
        Exercise(
            f"Two points on the straight part of a record: {low:g} N at {first:.4f} mm and {high:g} N at {second:.4f} mm. "
            "At which travel, in mm, would the straight part begin at no load?",
            toe,
            "Extend the line down to F = 0.",
            within=0.02,
        ),
    )


@bank("trust")
def trust(n: Numbers) -> tuple[Exercise, ...]:
    exact, error = n.between("exact", 1e6, 2e6, 1e5), n.between("error", 2e4, 6e4, 2e3)
    low, gap = n.between("low", 4e5, 6e5, 1e4), n.between("gap", 4e3, 1.2e4, 1e3)
    coarse, fine = exact + error, exact + error / 4
    n.given = {"coarse": coarse, "fine": fine, "low": low, "high": low + gap}
    return (
        Exercise(
            f"A result is {coarse:.0f} on one mesh and {fine:.0f} on one twice as fine, and "
            "its error goes with the square of the size. What do both together point to?",
            exact,
            "Richardson: halving the size leaves a quarter of the error, so (4 · fine − coarse) / 3.",
            (
                (fine, "That is the finer result as it is: it still has a quarter of the error."),
                ((coarse + fine) / 2, "Their mean lies between them; the truth does not."),
            ),
            within=0.0005,
        ),
        Exercise(
            f"J lies between {low:.0f} and {low + gap:.0f} mm⁴. How far, in per cent of the middle, can the "
            "middle be off at most?",
            100 * gap / (2 * low + gap),
            "Half the gap, over the middle.",
            (
                (
                    200 * gap / (2 * low + gap),
                    "Half the gap: the middle cannot be further from the truth than that.",
                ),
            ),
        ),
    )
