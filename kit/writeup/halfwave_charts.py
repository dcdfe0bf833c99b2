"""The half-wavelength picture: critical stress, what moves in the lowest mode, and the buckled shapes."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from kit.sections.halfwave import Curve
from kit.sections.halfwave_modes import MOTIONS
from kit.sections.halfwave_record import MOVE, CurveRecord, Rings, moved_rings, record_of
from kit.writeup import look
from kit.writeup.figures import Figure

WIDTH, TALL, BAND = 600, 210, 60
SHAPE = 118  # px, side of a panel in the row of buckled shapes
ROOM = 1.45  # half side of a panel ÷ half size of the section
NAMES = {
    "flexural_x": "bends about x",
    "flexural_y": "bends about y",
    "torsional": "twists",
    "distortional": "distorts",
    "local": "buckles locally",
}
COLOURS = ["#2568a0", "#7db4e6", "#6d1650", "#c65a93", "#e2a11a"]
ACROSS = alt.X("relative:Q", title="half-wavelength ÷ depth", scale=alt.Scale(type="log", nice=False))
ABOVE = ACROSS.title(None).axis(labels=False)


def buckled_path(curve: Curve, shape: np.ndarray, move: float = MOVE) -> str:
    """SVG path of a section moved by a mode's shape, in the square ±1, y downward.

    Parameters
    ----------
    curve : Curve
    shape : (nodes, 3) float array
        Greatest movement in plane 1, as :class:`~kit.sections.halfwave_solve.Modes` has it.
    move : float
        Greatest movement drawn ÷ half size of the section; 0 draws the section at rest.
    """
    return _path(moved_rings(curve, shape, move))


def _path(rings: Rings) -> str:
    return "".join("M" + "L".join(f"{x / ROOM:.3f},{-y / ROOM:.3f}" for x, y in ring) + "Z" for ring in rings)


def _record(curve: Curve | CurveRecord) -> CurveRecord:
    return curve if isinstance(curve, CurveRecord) else record_of(curve)


def curve_frame(curve: Curve | CurveRecord) -> pd.DataFrame:
    """A row per half-wavelength and mode: relative, half_wavelength_mm, stress_MPa, mode (1 lowest)."""
    record = _record(curve)
    rows = [
        {
            "half_wavelength_mm": half_wavelength,
            "relative": half_wavelength / record.depth_mm,
            "stress_MPa": stress,
            "mode": number,
        }
        for half_wavelength, stresses in zip(record.half_wavelengths_mm, record.stresses_MPa, strict=True)
        for number, stress in enumerate(stresses, start=1)
        if np.isfinite(stress)
    ]
    return pd.DataFrame(rows)


def shares_frame(curve: Curve | CurveRecord) -> pd.DataFrame:
    """A row per half-wavelength and motion: relative, motion (in words), share, order."""
    record = _record(curve)
    relative = np.array(record.half_wavelengths_mm) / record.depth_mm
    table = pd.DataFrame(record.shares, columns=[NAMES[motion] for motion in MOTIONS])
    table = table.assign(relative=relative).melt("relative", var_name="motion", value_name="share")
    table["order"] = table["motion"].map({NAMES[motion]: i for i, motion in enumerate(MOTIONS)})
    return table


def shapes_frame(curve: Curve | CurveRecord) -> pd.DataFrame:
    """A row per buckled shape worth showing: every minimum, and the long end.

    Columns title, relative, stress_MPa, buckled and rest (paths), words.
    """
    record = _record(curve)
    rest, rows = _path(record.rest), []
    for number, shape in enumerate(record.shapes, start=1):
        last = number == len(record.shapes)
        title = f"long member {NAMES[shape.title]}" if last else shape.title
        relative = shape.half_wavelength_mm / record.depth_mm
        words = f"{title}: {shape.stress_MPa:.3g} MPa at {relative:.2g} depths"
        rows.append((title, relative, shape.stress_MPa, _path(shape.rings), rest, words))
    return pd.DataFrame(rows, columns=["title", "relative", "stress_MPa", "buckled", "rest", "words"])


def _stress_panel(curve: CurveRecord, strength_MPa: float | None) -> alt.LayerChart:
    frame = curve_frame(curve)
    marked = shapes_frame(curve)[["relative", "stress_MPa", "words"]]  # without the paths: they are long
    lowest = frame[frame["mode"] == 1]
    vertical = alt.Y("stress_MPa:Q", title="critical stress [MPa]", scale=alt.Scale(type="log", nice=False))
    tips = [
        alt.Tooltip("half_wavelength_mm:Q", title="half-wavelength [mm]", format=".3~s"),
        alt.Tooltip("stress_MPa:Q", title="critical stress [MPa]", format=".3~s"),
    ]
    next_modes = frame[frame["mode"] > 1]
    higher = alt.Chart(next_modes).mark_line(color=look.HAIR, interpolate="monotone")
    layers = [
        # A layer without rows has no extent, of which the browser complains.
        *([] if next_modes.empty else [higher.encode(x=ABOVE, y=vertical, detail="mode:N")]),
        alt.Chart(lowest)
        .mark_line(
            color=look.INK, strokeWidth=2, interpolate="monotone", point={"color": look.INK, "size": 18}
        )
        .encode(x=ABOVE, y=vertical, tooltip=tips),
        alt.Chart(marked)
        .mark_point(color=look.ACCENT, size=70, strokeWidth=2, filled=False)
        .encode(x=ABOVE, y=vertical, tooltip=alt.Tooltip("words:N", title="shape")),
    ]
    if strength_MPa is not None:
        strength = alt.Chart(pd.DataFrame({"stress_MPa": [strength_MPa], "label": ["crushing strength"]}))
        layers.append(strength.mark_rule(color=look.ACCENT, strokeDash=[5, 4]).encode(y=vertical))
        layers.append(
            strength.mark_text(align="right", dy=-6, color=look.ACCENT).encode(
                x=alt.value("width"), y=vertical, text="label:N"
            )
        )
    return alt.layer(*layers).properties(width=WIDTH, height=TALL)


def _band_panel(curve: CurveRecord) -> alt.Chart:
    colour = alt.Color(
        "motion:N",
        title="lowest mode",
        scale=alt.Scale(domain=[NAMES[motion] for motion in MOTIONS], range=COLOURS),
        legend=alt.Legend(orient="bottom", direction="horizontal", columns=5),
    )
    share = alt.Y("share:Q", stack="normalize", title="share", axis=alt.Axis(values=[0, 1], format="%"))
    return (
        alt.Chart(shares_frame(curve))
        .mark_area(interpolate="linear", stroke=look.PAPER, strokeWidth=0.6)
        .encode(x=ACROSS, y=share, color=colour, order="order:O")
        .properties(width=WIDTH, height=BAND)
    )


def _shape_panel(row: pd.DataFrame) -> alt.LayerChart:
    """One buckled shape over the section at rest."""
    place = {"x": alt.value(SHAPE / 2), "y": alt.value(SHAPE / 2)}

    def drawn(column, fill, stroke):
        marks = alt.Chart(row).mark_point(filled=False, size=SHAPE**2, fill=fill, stroke=stroke, opacity=1)
        path = alt.Shape(f"{column}:N", scale=None, legend=None)
        return marks.encode(shape=path, description="words:N", **place)

    first = row.iloc[0]
    title = alt.Title(
        first["title"],
        subtitle=f"{first['stress_MPa']:.3g} MPa at {first['relative']:.2g} depths",
        fontSize=11,
    )
    layers = drawn("rest", look.BAND, look.HAIR), drawn("buckled", look.MARK, look.MARK)
    return alt.layer(*layers).properties(width=SHAPE, height=SHAPE, title=title)


def half_wavelength_chart(curve: Curve | CurveRecord, strength_MPa: float | None = None) -> alt.VConcatChart:
    """Stress over half-wavelength ÷ depth, the band of motions under it, the buckled shapes in a row below.

    Parameters
    ----------
    curve : Curve or CurveRecord
    strength_MPa : float, optional
        Crushing strength, drawn as a line.
    """
    curve = _record(curve)
    shapes = shapes_frame(curve)
    panels = [_shape_panel(shapes.iloc[[i]]) for i in range(len(shapes))]
    upper = alt.vconcat(_stress_panel(curve, strength_MPa), _band_panel(curve), spacing=6)
    upper = upper.resolve_scale(x="shared").resolve_legend(color="independent")
    whole = alt.vconcat(upper, alt.hconcat(*panels, spacing=30), spacing=18)
    return whole.resolve_legend(color="independent")


def half_wavelength_figure(
    curve: Curve | CurveRecord, name: str, key: str = "half-wavelength", strength_MPa: float | None = None
) -> Figure:
    """The chart as a numbered figure of the write-up.

    Parameters
    ----------
    curve : Curve or CurveRecord
    name : str
        Of the section, for the title.
    key : str
        For cross-references.
    strength_MPa : float, optional
    """
    return Figure(
        key,
        half_wavelength_chart(curve, strength_MPa),
        f"{name}: critical stress against half-wavelength",
        "Above: greatest compressive stress when buckling begins, for a half-wave of the length below it "
        "(black: lowest mode; grey: next modes; rings: shapes drawn). Between: what moves in the lowest. "
        "Below: the buckled section over the section at rest, movements enlarged.",
        in_words(curve),
        {"panel": WIDTH, "most": 1, "margin": 64, "shrink": True},
    )


def in_words(curve: Curve | CurveRecord) -> str:
    """What the chart shows, for a reader who cannot see it."""
    record = _record(curve)
    relative = np.array(record.half_wavelengths_mm) / record.depth_mm
    stress = [stresses[0] for stresses in record.stresses_MPa]
    text = (
        f"Line of critical stress against half-wavelength, both logarithmic, from {stress[0]:.3g} MPa at "
        f"{relative[0]:.2g} depths to {stress[-1]:.3g} MPa at {relative[-1]:.2g} depths. "
    )
    if not record.minima:
        return text + "It falls all the way: local and distortional buckling do not apply."
    found = [
        f"{one.title} at {one.half_wavelength_mm / record.depth_mm:.2g} depths, {one.stress_MPa:.3g} MPa"
        for one in record.minima
    ]
    return text + "Minima: " + "; ".join(found) + "."


def half_wavelength_slider(curve: Curve) -> alt.HConcatChart:
    """For a notebook: a slider walks along the curve, the buckled shape beside it follows."""
    places = alt.binding_range(min=0, max=len(curve.points) - 1, step=1, name="point of the curve ")
    chosen = alt.param(name="place", value=len(curve.points) // 2, bind=places)
    rest = buckled_path(curve, curve.points[0].shapes[0], 0.0)
    frame = curve_frame(curve).query("mode == 1").reset_index(drop=True)
    frame = frame.assign(
        place=range(len(frame)),
        rest=rest,
        buckled=[buckled_path(curve, point.shapes[0]) for point in curve.points],
        words=[
            f"{NAMES[MOTIONS[int(np.argmax(shares))]]}: {stress:.3g} MPa at {relative:.2g} depths"
            for shares, stress, relative in zip(
                curve.participation, frame["stress_MPa"], frame["relative"], strict=True
            )
        ],
    )
    here = alt.datum.place == chosen
    vertical = alt.Y("stress_MPa:Q", title="critical stress [MPa]", scale=alt.Scale(type="log", nice=False))
    line = alt.Chart(frame).mark_line(color=look.INK, interpolate="monotone").encode(x=ACROSS, y=vertical)
    point = alt.Chart(frame).transform_filter(here).mark_point(color=look.ACCENT, size=110, filled=True)
    left = alt.layer(line, point.encode(x=ACROSS, y=vertical)).add_params(chosen)
    one = alt.Chart(frame).transform_filter(here)
    side = 240

    def drawn(column, fill):
        marks = one.mark_point(size=side**2, fill=fill, stroke=fill, opacity=1)
        path = alt.Shape(f"{column}:N", scale=None, legend=None)
        return marks.encode(x=alt.value(side / 2), y=alt.value(side / 2), shape=path, description="words:N")

    words = one.mark_text(baseline="bottom", color=look.INK).encode(
        x=alt.value(side / 2), y=alt.value(side), text="words:N"
    )
    right = alt.layer(drawn("rest", look.BAND), drawn("buckled", look.MARK), words)
    return alt.hconcat(left.properties(width=380, height=side), right.properties(width=side, height=side))
