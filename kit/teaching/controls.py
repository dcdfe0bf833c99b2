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
from kit.teaching.pictures import section_picture
from kit.teaching.plots import log_plot

PROPERTIES = (
    ("area_mm2", "mm²"), ("Ix_mm4", "mm⁴"), ("Iy_mm4", "mm⁴"), ("Wel_x_top_mm3", "mm³"), ("Wpl_x_mm3", "mm³"),
    ("J_mm4", "mm⁴"), ("xs_mm", "mm"), ("ys_mm", "mm"),
)  # fmt: skip


def _table(rows: list[tuple[str, ...]]) -> str:
    cells = ("".join(f"<td style='padding:0 8px'>{escape(cell)}</td>" for cell in row) for row in rows)
    return "<table>" + "".join(f"<tr>{row}</tr>" for row in cells) + "</table>"


def _text(found: bench.Shown) -> str:
    """Properties and resistances as one HTML text."""
    props = [
        (name.rsplit("_", 1)[0], f"{getattr(found.properties, name):.4g}", unit) for name, unit in PROPERTIES
    ]
    members = [
        (
            one.load_case,
            f"{one.resistance:.4g} {one.unit}" if np.isfinite(one.resistance) else "not assessed",
            str(one.limit_state),
            f"{one.mass_kg:.3g} kg",
        )
        for one in found.members.itertuples()
    ]
    return f"<b>Section</b>{_table(props)}<b>Members</b>{_table(members)}"


@dataclass
class Panel:
    """The bench: controls on the left, what follows from them beside it.

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
        names = ("picture", "numbers", "position", "curve", "message")
        self.views = {name: widgets.HTML() for name in names}
        for name, view in self.views.items():
            view.add_class(f"bench-{name}")
        saltmere.read_all()
        self._asked, self._drawn = 0, ""
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
        self.views["picture"].value = picture.text
        self.views["numbers"].value = _text(found)
        self.views["position"].value = log_plot(line, mark, "mass, kg", "load of the beam, N").text

    def _curve(self, setting: bench.Setting, asked: int) -> None:
        """Compute the curve beside the controls; an answer that came too late is thrown away."""
        time.sleep(0.05)
        if asked != self._asked:
            return
        try:
            lengths, stress = bench.half_waves(setting)
        except (InputError, Unusable, ValueError, RuntimeError) as error:
            text = f"no curve: {escape(str(error))}"
        else:
            lines = {"even compression": (lengths, stress)}
            text = log_plot(lines, {}, "half-wavelength, mm", "critical stress, MPa").text
        if asked == self._asked:
            self._drawn = text
            self._put_curve(dimmed=False)

    def _put_curve(self, dimmed: bool) -> None:
        state, opacity = ("dimmed", "0.35") if dimmed else ("fresh", "1")
        self.views["curve"].value = f"<div class='{state}' style='opacity:{opacity}'>{self._drawn}</div>"

    def wait(self, seconds: float = 30.0) -> None:
        """Wait until the last curve that was asked for is there."""
        if self._latest is not None:
            self._latest.join(seconds)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.box()._repr_mimebundle_(include=include, exclude=exclude)

    def box(self) -> widgets.Widget:
        """Everything in one box."""
        left = widgets.VBox([*self.controls.values(), self.views["message"]])
        middle = widgets.VBox([self.views["picture"], self.views["position"]])
        right = widgets.VBox([self.views["numbers"], self.views["curve"]])
        left.layout.flex = middle.layout.flex = "0 0 auto"
        return widgets.HBox([left, middle, right], layout=widgets.Layout(flex_flow="row wrap"))


def _controls() -> dict[str, widgets.Widget]:
    start = bench.Setting()
    names = [*saltmere.drawings(), *string.ascii_uppercase]
    slider = {"continuous_update": False, "readout_format": ".4g"}
    return {
        "outline": widgets.Dropdown(options=names, value=start.outline, description="outline"),
        "typeface": widgets.Dropdown(
            options=list(saltmere.TYPEFACES), value=start.typeface, description="typeface"
        ),
        "turn_deg": widgets.FloatSlider(start.turn_deg, min=-180, max=180, step=5, description="turn, °"),
        "cutter_radius_mm": widgets.FloatSlider(
            start.cutter_radius_mm, min=0.5, max=6, step=0.5, description="cutter, mm", **slider
        ),
        "span_mm": widgets.FloatSlider(
            start.span_mm, min=200, max=4000, step=100, description="span, mm", readout_format=".4g"
        ),
        "material": widgets.Dropdown(
            options=[(one.name, key) for key, one in saltmere.materials().items()],
            value=start.material,
            description="material",
        ),
    }
