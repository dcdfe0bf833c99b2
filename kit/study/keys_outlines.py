"""Keys of the parameter file that say which outlines there are and how they are made ready."""

from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from kit.errors import InputError
from kit.outlines import specs
from kit.outlines.making import PROCESSES, STOCKLESS
from kit.study.fields import (
    FileName,
    Keys,
    Name,
    Text,
    YesNo,
    choice,
    number,
    one_or_many,
    quantity,
    refuse,
    whole,
)

Length = quantity("length", above=0)
CUTTING = "process " + " or ".join(p for p in PROCESSES if p not in STOCKLESS)
Angle = quantity("angle", least=-360, most=360)
DrawnUnit = choice("mm", "cm", "m", "in", "pt", "px")


class Choose(Keys):
    """A sample out of a large collection of fonts."""

    styles: one_or_many(Text) | None = Field(None, description="Only these styles, such as Regular")
    families: whole(least=1, most=1_000_000) | None = Field(None, description="How many families, at random")
    seed: whole(least=0, most=2**31 - 1) = Field(1, description="Seed of the random choice")


class _Files(Keys):
    from_: str = Field(alias="from", description="Where the outlines come from")
    files: one_or_many(FileName) = Field(
        min_length=1,
        description="Files, folders or globs (`**` too), absolute or relative to this file; "
        "`installed:package/file` for one shipped inside an installed package",
    )
    labels: FileName | None = Field(None, description="CSV: file, then columns of your own to group by")


class Fonts(_Files):
    """Characters of typefaces."""

    from_: Literal["fonts"] = Field(alias="from", description="Where the outlines come from")
    characters: one_or_many(Text) = Field(
        ("A-Z",),
        min_length=1,
        description="Ranges (A-Z), lists or single characters of any script; `glyph:name` for unencoded ones",
    )
    axes: dict[Text, one_or_many(number())] | None = Field(
        None, description="Variable fonts: values of each axis; without it the default instance"
    )
    instances: one_or_many(Text) | None = Field(
        None, description="Variable fonts: named instances; `all` for every one"
    )
    choose: Choose | None = Field(None, description="A sample out of a large collection")


class Svg(_Files):
    """Drawings as SVG."""

    from_: Literal["svg"] = Field(alias="from", description="Where the outlines come from")
    unit: DrawnUnit | None = Field(None, description="Unit of the drawing, where it does not say")
    strokes: choice("refuse", "ignore", "outline") = Field(
        "refuse", description="Painted strokes: leave the drawing out, count its fill alone, or both"
    )


class Dxf(_Files):
    """Drawings as DXF."""

    from_: Literal["dxf"] = Field(alias="from", description="Where the outlines come from")
    unit: DrawnUnit | None = Field(None, description="Unit of the drawing, where it does not say")
    layers: one_or_many(Text) | None = Field(None, description="Only these layers; without it all")
    gap: quantity("length", least=0) = Field(0.01, description="Greatest gap closed between ends")


class Points(_Files):
    """Rings of points as CSV."""

    from_: Literal["points"] = Field(alias="from", description="Where the outlines come from")
    unit: DrawnUnit = Field("mm", description="Unit of x and y")


class Shape(Keys):
    """A standard shape by its dimensions, or a rolled one by its designation."""

    from_: Literal["shape"] = Field(alias="from", description="Where the outlines come from")
    name: Name = Field(description="Name of the outline in tables and figures")
    shape: Text | None = Field(None, description="Kind of shape")
    dimensions: dict[Text, quantity("length", least=0)] | None = Field(
        None, description="The dimensions this kind of shape needs"
    )
    designation: Text | None = Field(None, description="A rolled shape by its name, instead of dimensions")
    labels: dict[Text, Text] = Field({}, description="Columns of your own to group by")

    @model_validator(mode="after")
    def _complete(self):
        if (self.shape is None) == (self.designation is None):
            raise refuse("a shape needs either shape with dimensions, or designation", "one of the two")
        _check_drawn(self)
        return self


def _check_drawn(keys: Shape) -> None:
    """Draw the shape once, so that unknown, missing and impossible dimensions are refused here."""
    dimensions = tuple((keys.dimensions or {}).items())
    refusal = _refusal(specs.Shape(keys.name, keys.shape or "", dimensions, keys.designation or ""))
    if refusal:
        raise refuse(*refusal)


@lru_cache(maxsize=4096)  # each variant checks the whole file again
def _refusal(spec: specs.Shape) -> tuple[str, str] | None:
    from kit.outlines.shapes import outline_of

    try:
        outline_of(spec)
    except InputError as error:
        return error.what, error.todo
    return None


Outlines = Annotated[Fonts | Svg | Dxf | Points | Shape, Field(discriminator="from_")]
SOURCES = {"fonts": Fonts, "svg": Svg, "dxf": Dxf, "points": Points, "shape": Shape}


class Reference(Keys):
    """The section every other one is compared with."""

    outline: Text = Field(description="Name of the outline")
    orientation: Angle = Field(0.0, description="One of `preparation.orientations`")


class Fit(Keys):
    """How large each outline is made; proportions are kept. Exactly one of these."""

    envelope: tuple[Length, Length] | None = Field(None, description="Width and depth it just fits into")
    cap_height: Length | None = Field(
        None, description="Height of the capitals of its typeface; shapes and drawings stay as drawn"
    )
    area: quantity("area", above=0) | None = Field(None, description="Area as cut")
    mass_per_length: quantity("mass per length", above=0) | None = Field(
        None, description="Mass per length as cut, with the density of the material"
    )
    scale: number(above=0) | None = Field(None, description="Times the drawn size; 1 is as drawn")

    @model_validator(mode="after")
    def _exactly_one(self):
        given = [key for key in type(self).model_fields if getattr(self, key) is not None]
        if len(given) != 1:
            found = " and ".join(given) + " are given" if given else "nothing is given"
            raise refuse(found, f"exactly one of: {', '.join(type(self).model_fields)}")
        return self


class Preparation(Keys):
    """From the drawn outline to the section, in this order: unite, repair, fit, flatten, cut, turn."""

    process: choice("extruded", "milled-lengthwise", "cut-from-plate", "wire-cut", "printed") = Field(
        "extruded", description="How the member is made; decides what outline is possible"
    )
    fit: Fit = Field(Fit(scale=1), description="How large each outline is made")
    flatten: Length | None = Field(
        None,
        description="Greatest distance between a curve and its polygon; without, 1/10000 of the envelope, "
        "or less where chords would cost too much of a thin outline",
    )
    cutter_radius: quantity("length", least=0) = Field(
        0.0, description="Radius the tool leaves in internal corners; 0 is as drawn"
    )
    least_wall: quantity("length", least=0) = Field(
        0.0, description="Outlines with thinner walls are left out"
    )
    separate_parts: choice("leave-out", "keep-largest", "join") = Field(
        "leave-out", description="What to do with an outline of several parts"
    )
    web: quantity("length", least=0) = Field(
        0.0, description="`join`: width of the webs; 0 is 1/20 of the envelope, or the least wall if greater"
    )
    keep_area: YesNo = Field(
        True, description="Flatten so that every contour keeps its area; `false`: chords from curve to curve"
    )
    stock: tuple[Length, Length] | None = Field(
        None,
        description="Width and depth of the bar or plate it is cut from; outlines that do not fit are left out",
    )
    orientations: one_or_many(Angle) = Field(
        (0.0,), min_length=1, max_length=72, description="Each section is turned by each of these"
    )

    @field_validator("orientations")
    @classmethod
    def _different(cls, value: Any) -> Any:
        if len({angle % 360 for angle in value}) < len(value):
            raise refuse("the same orientation is given twice", "each orientation once")
        return value

    @model_validator(mode="after")
    def _stock_is_cut(self):
        if self.stock and self.process in STOCKLESS:
            raise refuse(f"stock is given, but a member that is {self.process} is not cut from any", CUTTING)
        return self
