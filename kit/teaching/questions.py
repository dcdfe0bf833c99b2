"""Exercises of the core examples. Answers are closed forms, written out here; nothing is taken from the kit."""

from __future__ import annotations

from math import pi, sin, sqrt

from kit.teaching.exercises import Exercise, Numbers, bank, shown


@bank("first-look")
def first_look(n: Numbers) -> tuple[Exercise, ...]:
    width, depth, span = (
        n.between("width", 30, 60, 5),
        n.between("depth", 80, 140, 10),
        n.between("span", 500, 1000, 50),
    )
    area, modulus = width * depth, width * depth**2 / 6
    mass, load = area * span * 940e-9, 4 * 15 * modulus / span
    plank = f"A plank of {width:g} × {depth:g} mm (width × depth) and {span:g} mm length"
    return (
        Exercise(
            f"{plank} is of plastic of 940 kg/m³. What is its mass in kg?",
            mass,
            "Mass is density times volume; 1 m³ is 10⁹ mm³.",
        ),
        Exercise(
            f"{plank} carries a load in the middle. At which load, in N, does the stress at its lower edge "
            "reach 15 MPa? Leave its own weight out.",
            load,
            "The greatest moment is F L / 4, the section modulus b h² / 6, and the stress is one over the other.",
            (
                (2 * load, "Is the moment F L / 8? That is for a load spread evenly."),
                (4 * 15 * depth * width**2 / 6 / span, "The plank stands upright: the depth is squared."),
            ),
        ),
    )


@bank("outlines")
def outlines(n: Numbers) -> tuple[Exercise, ...]:
    corners, outer, inner = (
        n.between("corners", 12, 40, 2),
        n.between("outer", 60, 120, 5),
        n.between("inner", 20, 50, 5),
    )
    lost = 100 * (1 - corners / (2 * pi) * sin(2 * pi / corners))
    return (
        Exercise(
            f"A circle is drawn as a regular polygon of {corners:g} sides whose corners lie on it. How much of the "
            "circle's area is lost, in per cent?",
            lost,
            "The polygon is so many triangles with two sides r and an angle of 2π/n between them.",
            within=0.01,
        ),
        Exercise(
            f"A square of {outer:g} mm holds a square of {inner:g} mm. Both contours run counter-clockwise and the "
            "fill rule is non-zero. What is the filled area, in mm²?",
            outer**2,
            "Count how often the contours go round a point inside the small square: 1 + 1 is not zero.",
            (
                (
                    outer**2 - inner**2,
                    "That would be the even-odd rule, or an inner contour that runs clockwise.",
                ),
            ),
        ),
    )


@bank("second-moments")
def second_moments(n: Numbers) -> tuple[Exercise, ...]:
    width, depth = n.between("width", 60, 120, 10), n.between("depth", 100, 200, 10)
    flange, web = n.between("flange", 8, 16, 2), n.between("web", 6, 12, 1)
    inside = depth - 2 * flange
    second_moment = (width * depth**3 - (width - web) * inside**3) / 12
    stem = depth - flange
    height = (web * stem**2 / 2 + width * flange * (depth - flange / 2)) / (web * stem + width * flange)
    sizes = f"width {width:g}, depth {depth:g}, flange {flange:g}, web {web:g} mm"
    return (
        Exercise(
            f"An I-section: {sizes}. What is its second moment of area about x, Ix, in mm⁴?",
            second_moment,
            "Take the full rectangle and subtract the two empty ones beside the web: all three share the axis.",
            (
                ((width * depth**3 - width * inside**3) / 12, "The web is missing."),
                (width * depth**3 / 12, "That is the full rectangle."),
            ),
        ),
        Exercise(
            f"A T-section, flange on top: {sizes}. How high above its lower edge lies the centroid, in mm?",
            height,
            "Area times height of each rectangle, added up, divided by the whole area.",
            (
                (depth / 2, "That is half the depth, which holds for two equal flanges only."),
                (depth - height, "That is how far it lies below the upper edge."),
            ),
        ),
    )


@bank("materials")
def materials(n: Numbers) -> tuple[Exercise, ...]:
    mean, cov = n.between("mean", 12, 20, 1), n.between("cov", 5, 12, 1)
    width, depth, span = (
        n.between("width", 30, 60, 5),
        n.between("depth", 80, 140, 10),
        n.between("span", 600, 1200, 100),
    )
    load, share = n.between("load", 200, 500, 50), n.between("share", 25, 45, 5)
    second_moment = width * depth**3 / 12
    short = load * span**3 / (48 * 1100 * second_moment)
    return (
        Exercise(
            f"A strength has the mean {mean:g} MPa and a coefficient of variation of {cov:g} %, normally distributed. "
            "Below which value, in MPa, do 5 % of all pieces lie?",
            mean * (1 - 1.645 * cov / 100),
            "Go 1.645 standard deviations below the mean; the standard deviation is mean times coefficient.",
            (
                (mean * (1 - cov / 100), "That is one standard deviation below: 16 % lie under it."),
                (mean * (1 - 1.96 * cov / 100), "1.96 leaves 2.5 % on each side."),
                (mean * (1 + 1.645 * cov / 100), "Above that value lie 5 %."),
            ),
        ),
        Exercise(
            f"A plank of {width:g} × {depth:g} mm (width × depth) spans {span:g} mm and carries {load:g} N in the middle. "
            f"E = 1100 MPa in a short test; after years {share:g} % of it are left. How far does it sag then, in mm? "
            "Bending only.",
            short * 100 / share,
            "F L³ / (48 E I), with the E that is left.",
            (
                (short, "That is the deflection at once, with the E of the short test."),
                (short * share / 100, "With less E it sags more, not less."),
                (
                    short * 100 / share * (depth / width) ** 2,
                    "The plank stands upright: the depth takes the cube.",
                ),
            ),
        ),
    )


@bank("bending")
def bending(n: Numbers) -> tuple[Exercise, ...]:
    width, depth = n.between("width", 50, 100, 10), n.between("depth", 80, 160, 10)
    wall, span = n.between("wall", 4, 10, 1), n.between("span", 1000, 3000, 250)
    inner_width, inner_depth = width - 2 * wall, depth - 2 * wall
    second_moment = (width * depth**3 - inner_width * inner_depth**3) / 12
    elastic = second_moment / (depth / 2)
    plastic = (width * depth**2 - inner_width * inner_depth**2) / 4
    tube = f"a rectangular tube, {width:g} mm wide, {depth:g} mm deep, wall {wall:g} mm, sharp corners"
    deflection = 5 * 1.0 * span**4 / (384 * 70000 * second_moment)
    return (
        Exercise(
            f"How much more moment does {tube} carry fully plastic than at first yield: Wpl / Wel = ?",
            plastic / elastic,
            "Wpl is (b h² − b' h'²)/4 – moduli of nested rectangles on one axis subtract – and Wel is I / (h/2).",
            ((1.5, "1.5 belongs to the full rectangle."), (elastic / plastic, "That is Wel / Wpl.")),
        ),
        Exercise(
            f"{tube.capitalize()}, of aluminium (E = 70 000 MPa), spans {span:g} mm under 1 N/mm over its whole length. "
            "How far does it sag, in mm? Bending only.",
            deflection,
            "A load spread evenly: 5 q L⁴ / (384 E I).",
            (
                (
                    1.6 * deflection,
                    "That is q L in the middle: F L³ / (48 E I). Spread out it sags 5/8 as far.",
                ),
                (
                    deflection * second_moment / (width * depth**3 / 12),
                    "That is a full bar: the tube is hollow.",
                ),
            ),
        ),
    )


@bank("torsion")
def torsion(n: Numbers) -> tuple[Exercise, ...]:
    side, wall = n.between("side", 60, 120, 10), n.between("wall", 2, 5, 0.5)
    middle = side - wall
    closed, opened = wall * middle**3, 4 * middle * wall**3 / 3
    tube = f"A square tube of {side:g} mm outside, wall {wall:g} mm"
    return (
        Exercise(
            f"{tube}. What is its torsion constant J by the thin-wall formula, in mm⁴?",
            closed,
            "J = 4 A² t / s: A is the area inside the middle line of the wall, s the length of that line.",
            ((wall * side**3, "The middle line of the wall counts, not its outside."),),
        ),
        Exercise(
            f"{tube}, is slit along its whole length. What is J now, in mm⁴?",
            opened,
            "Four strips, open: each gives b t³ / 3, b along the middle line.",
            ((closed, "That is the closed tube still."),),
        ),
    )


@bank("columns")
def columns(n: Numbers) -> tuple[Exercise, ...]:
    width, depth = n.between("width", 30, 50, 5), n.between("depth", 80, 120, 10)
    length, strength = n.between("length", 1000, 2500, 250), n.between("strength", 12, 20, 1)
    weak, strong = depth * width**3 / 12, width * depth**3 / 12
    post = f"a plank of {width:g} × {depth:g} mm"
    return (
        Exercise(
            f"At which load, in N, does {post} of {length:g} mm length buckle elastically, hinged at both ends, "
            "E = 1100 MPa?",
            pi**2 * 1100 * weak / length**2,
            "Euler: π² E I / L², about the axis it bends most easily.",
            (
                (pi**2 * 1100 * strong / length**2, "That is the stiff way: it bends the weak way first."),
                (4 * pi**2 * 1100 * weak / length**2, "That is for ends held fast; hinges turn."),
            ),
        ),
        Exercise(
            f"At which length, in mm, does Euler's stress of {post} equal a strength of {strength:g} MPa (E = 1100 MPa, "
            "hinged ends)?",
            pi * width / sqrt(12) * sqrt(1100 / strength),
            "π² E / (L/r)² = f, and the radius of gyration of a plank the weak way is b / √12.",
            (
                (
                    pi * depth / sqrt(12) * sqrt(1100 / strength),
                    "That is the stiff way: it bends the weak way first.",
                ),
            ),
        ),
    )


@bank("ranking")
def ranking(n: Numbers) -> tuple[Exercise, ...]:
    reference, mass = n.between("reference", 2, 3, 0.1), n.between("mass", 3.5, 5, 0.1)
    load, other = n.between("load", 1000, 1500, 50), n.between("other", 1800, 2800, 50)
    area, second_moment = n.between("area", 2000, 3000, 100), n.between("second_moment", 3e6, 5e6, 1e5)
    scale = sqrt(reference / mass)
    merit = scale**3 * other / load
    return (
        Exercise(
            f"The reference weighs {reference:g} kg, another section {mass:g} kg; both are equally long. By which factor "
            "must the other one's sides be scaled to weigh as much as the reference?",
            scale,
            "At fixed length, mass goes with the area and so with the square of the scale.",
            (
                (reference / mass, "That is the ratio of the areas; sides go with its root."),
                (1 / scale, "The heavier one has to shrink."),
            ),
        ),
        Exercise(
            f"The reference ({reference:g} kg) carries {load:g} N, the other ({mass:g} kg) {other:g} N, both limited by "
            "yield in bending. What is the other one's merit – its load at the reference's mass over the reference's?",
            merit,
            "A section modulus grows with the cube of the scale.",
            (
                (other / load, "The masses differ: scale first."),
                (scale**2 * other / load, "Tension goes with the square; bending with the cube."),
                (other / load / scale**3, "The heavier one has to shrink."),
            ),
        ),
        Exercise(
            f"A section has A = {area:g} mm² and I = {shown(second_moment)} mm⁴. What is its elastic shape factor in bending?",
            12 * second_moment / area**2,
            "I over that of a square of the same area, A² / 12.",
            ((area**2 / 12 / second_moment, "That is the square over the section."),),
        ),
    )


@bank("study")
def study(n: Numbers) -> tuple[Exercise, ...]:
    outlines_, turns = n.between("outlines", 12, 30, 1), n.between("turns", 2, 4, 1)
    variants, cases, lost = (
        n.between("variants", 2, 5, 1),
        n.between("cases", 2, 4, 1),
        n.between("lost", 2, 5, 1),
    )
    rows = (outlines_ - lost) * turns
    return (
        Exercise(
            f"A study names {outlines_:g} outlines, turns each to {turns:g} orientations, and {lost:g} outlines turn out to "
            "be unusable. How many rows has its `sections.csv`, if all variants prepare the outlines alike?",
            rows,
            "An outline that is left out has no section at all.",
            (
                (outlines_ * turns, "What is left out has no row."),
                (outlines_ - lost, "Each orientation is a section of its own."),
            ),
            within=1e-9,
        ),
        Exercise(
            f"The same study has {variants:g} variants and {cases:g} load cases. How many rows has its `members.csv`?",
            rows * variants * cases,
            "A row for each section, variant and load case.",
            (
                (rows * variants, "The load cases are missing."),
                (rows * cases, "The variants are missing."),
                (rows, "That is the number of sections."),
            ),
            within=1e-9,
        ),
    )
