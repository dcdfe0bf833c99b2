"""The bench's controls and what they show: ipywidgets around :mod:`kit.teaching.bench`."""

from __future__ import annotations

import string
import threading
import time
from dataclasses import dataclass, field
from html import escape

import ipywidgets as widgets
import numpy as np

from kit.errors import InputError, Unusable
from kit.teaching import bench, saltmere
from kit.teaching.exercises import shown
from kit.teaching.pictures import section_picture
from kit.teaching.plots import log_plot

PROPERTIES = (
    ("area", "area_mm2", "mm²"), ("Ix", "Ix_mm4", "mm⁴"), ("Iy", "Iy_mm4", "mm⁴"),
    ("Wel, upper edge", "Wel_x_top_mm3", "mm³"), ("Wel, lower edge", "Wel_x_bottom_mm3", "mm³"),
    ("Wpl", "Wpl_x_mm3", "mm³"), ("J", "J_mm4", "mm⁴"), ("shear centre x", "xs_mm", "mm"),
    ("shear centre y", "ys_mm", "mm"), ("axis 1, from x", "principal_angle_deg", "°"),
)  # fmt: skip
COLUMNS_PX = ((250, 330), (260, 400), (260, 440))  # least and greatest width
LOOK = """<style>
.bench h4 {margin: 0 0 4px; font-size: 13px; font-weight: 600}
.bench svg {max-width: 100%; height: auto}
.bench .widget-html-content {line-height: 1.4}
.bench table {border-collapse: collapse; width: 100%; font-size: 12px; margin: 0 0 12px}
.bench td {padding: 1px 6px 1px 0; text-align: left; border-bottom: 1px solid rgba(128, 128, 128, .2)}
.bench td.n {text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap}
.bench .bench-time, .bench .bench-note {color: gray; font-size: 11px}
.bench-curve .dimmed {opacity: .35}
</style>"""


def _table(rows: list[tuple[str, ...]]) -> str:
    """Rows of (name, number, note); the numbers stand flush right."""
    texts = (
        f"<tr><td>{escape(name)}</td><td class='n'>{escape(number)}</td><td>{escape(note)}</td></tr>"
        for name, number, note in rows
    )
    return f"<table>{''.join(texts)}</table>"


def _titled(title: str, content: str) -> str:
    return f"<h4>{escape(title)}</h4>{content}"


def _member(one) -> tuple[str, str, str]:
    """Name, resistance and limit state; a torque in N m."""
    size, unit = (one.resistance / 1000.0, "N m") if one.unit == "N mm" else (one.resistance, "N")
    if not np.isfinite(size):
        return one.load_case, "not assessed", ""
    return one.load_case, f"{shown(float(f'{size:.4g}'))} {unit}", str(one.limit_state)


def _properties(found: bench.Shown) -> str:
    rows = [
        (name, shown(float(f"{getattr(found.properties, column):.4g}")), unit)
        for name, column, unit in PROPERTIES
    ]
    return _titled("Properties", _table(rows))


def _members(found: bench.Shown) -> str:
    mass = f"Members of {found.members['mass_kg'].iloc[0]:.3g} kg"
    return _titled(mass, _table([_member(one) for one in found.members.itertuples()]) + _reasons(found))


def _reasons(found: bench.Shown) -> str:
    """Why something is not assessed, each reason once."""
    missing = found.members[~np.isfinite(found.members["resistance"])]
    lines = (f"{', '.join(cases)}: {why}." for why, cases in missing.groupby("why")["load_case"])
    return "".join(f"<p class='bench-note'>{escape(line)}</p>" for line in lines)


@dataclass
class Panel:
    """The bench: controls and numbers on the left, pictures beside them.

    Attributes
    ----------
    controls : dict
        The widgets, by the field of :class:`kit.teaching.bench.Setting` that each sets.
    milliseconds : list of float
        How long each response took in the kernel, curve apart.
    """

    controls: dict[str, widgets.Widget] = field(default_factory=lambda: _controls())
    milliseconds: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        names = ("picture", "numbers", "members", "position", "curve", "message")
        self.views = {name: widgets.HTML() for name in names}
        for name, view in self.views.items():
            view.add_class(f"bench-{name}")
        saltmere.read_all()
        self._asked, self._drawn = 0, ""
        self._computing = threading.Lock()
        self._latest: threading.Thread | None = None
        for control in self.controls.values():
            control.observe(lambda _: self.respond(), names="value")
        self.respond()

    def setting(self) -> bench.Setting:
        """Where the controls stand."""
        return bench.Setting(**{name: control.value for name, control in self.controls.items()})

    def respond(self) -> None:
        """Show what follows from the controls; the half-wavelength curve comes later, dimmed until then."""
        began = time.perf_counter()
        setting = self.setting()
        self._asked += 1
        self._put_curve(dimmed=True)
        try:
            self._show(setting, bench.shown(setting))
        except (InputError, Unusable) as error:
            self.views["message"].value = f"<b>Not possible:</b> {escape(str(error))}"
            return
        self.milliseconds.append(1000.0 * (time.perf_counter() - began))
        note = f"followed in {self.milliseconds[-1]:.0f} ms"
        self.views["message"].value = f"<span class='bench-time'>{note}</span>"
        self._latest = threading.Thread(target=self._curve, args=(setting, self._asked), daemon=True)
        self._latest.start()

    def _show(self, setting: bench.Setting, found: bench.Shown) -> None:
        centre = {"shear centre": (found.properties.xs_mm, found.properties.ys_mm)}
        picture = section_picture(found.polygon, axes={"x": ((0, 0), 0)}, points=centre, name=setting.outline)
        beam = found.members.iloc[0]
        line = {"as good as the plain I": bench.equal_merit(setting.span_mm, setting.material)}
        mark = {setting.outline: (beam["mass_kg"], beam["resistance"])}
        self.views["picture"].value = _titled("The section as cut", picture.text)
        self.views["numbers"].value = _properties(found)
        self.views["members"].value = _members(found)
        position = log_plot(line, mark, "mass, kg", "load of the beam, N").text
        self.views["position"].value = _titled("The beam between load and mass", position)

    def _curve(self, setting: bench.Setting, asked: int) -> None:
        """Compute the curve beside the controls, one at a time; one that is not wanted any more is given up."""
        time.sleep(0.05)
        try:
            with self._computing:
                found = bench.half_waves(setting, wanted=lambda: asked == self._asked)
        except (InputError, Unusable, ValueError, RuntimeError) as error:
            text = f"no curve: {escape(str(error))}"
        else:
            if found is None:
                return
            text = log_plot(
                {"even compression": found}, {}, "half-wavelength, mm", "critical stress, MPa"
            ).text
        if asked == self._asked:
            self._drawn = text
            self._put_curve(dimmed=False)

    def _put_curve(self, dimmed: bool) -> None:
        state = "dimmed" if dimmed else "fresh"
        content = f"<div class='{state}'>{self._drawn}</div>"
        self.views["curve"].value = _titled("The half-wavelength curve", content)

    def wait(self, seconds: float = 30.0) -> None:
        """Wait until the last curve that was asked for is there."""
        if self._latest is not None:
            self._latest.join(seconds)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.box()._repr_mimebundle_(include=include, exclude=exclude)

    def box(self) -> widgets.Widget:
        """Everything in one box: three columns where there is room for them, fewer where there is not."""
        views = self.views
        columns = [
            widgets.VBox([*self.controls.values(), views["message"], views["numbers"]]),
            widgets.VBox([views["picture"], views["members"]]),
            widgets.VBox([views["position"], views["curve"]]),
        ]
        for column, (least, most) in zip(columns, COLUMNS_PX, strict=True):
            column.layout = widgets.Layout(flex=f"1 1 {least}px", min_width="0", max_width=f"{most}px")
        row = widgets.HBox(columns, layout=widgets.Layout(flex_flow="row wrap", grid_gap="12px 28px"))
        whole = widgets.VBox([widgets.HTML(LOOK), row])
        whole.add_class("bench")
        return whole


def _controls() -> dict[str, widgets.Widget]:
    made = _made()
    for control in made.values():
        control.layout.width = "auto"
        control.style.description_width = "82px"
    return made


def _made() -> dict[str, widgets.Widget]:
    start = bench.Setting()
    names = [*saltmere.drawings(), *string.ascii_uppercase]
    slider = {"continuous_update": False, "readout_format": ".1f"}
    return {
        "outline": widgets.Dropdown(options=names, value=start.outline, description="outline"),
        "typeface": widgets.Dropdown(
            options=list(saltmere.TYPEFACES), value=start.typeface, description="typeface"
        ),
        "turn_deg": widgets.FloatSlider(
            start.turn_deg, min=-180, max=180, step=5, description="turn, °", readout_format=".0f"
        ),
        "cutter_radius_mm": widgets.FloatSlider(
            start.cutter_radius_mm, min=0.5, max=6, step=0.5, description="cutter, mm", **slider
        ),
        "span_mm": widgets.FloatSlider(
            start.span_mm, min=200, max=4000, step=100, description="span, mm", readout_format=".0f"
        ),
        "material": widgets.Dropdown(
            options=[(one.name, key) for key, one in saltmere.materials().items()],
            value=start.material,
            description="material",
        ),
    }
