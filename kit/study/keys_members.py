"""Keys of the parameter file that say what a member is made of and what it is asked to carry."""

from typing import Annotated, Any

from pydantic import ConfigDict, Discriminator, Field, Tag, field_validator, model_validator

from kit import quantities
from kit.errors import InputError
from kit.members import cases
from kit.members.materials import FAMILIES
from kit.members.together import EXPRESSIONS
from kit.study.fields import FileName, Keys, Name, Text, YesNo, choice, number, quantity, refuse

Length = quantity("length", above=0)
Stress = quantity("stress", above=0)
Cov = quantity("ratio", least=0, below=1)


def _or_mean_alone(schema: dict) -> None:
    """In the JSON Schema: a value alone, or mean and cov."""
    both = dict(schema)
    schema.clear()
    schema |= {"anyOf": [both["properties"]["mean"], both]}


class StressSpread(Keys):
    """A stress and how far it scatters."""

    model_config = ConfigDict(json_schema_extra=_or_mean_alone)
    mean: Stress = Field(description="Mean value")
    cov: Cov = Field(0.0, description="Coefficient of variation")

    @model_validator(mode="before")
    @classmethod
    def _mean_alone(cls, value: Any) -> Any:
        return {"mean": value} if isinstance(value, str) else value


class Material(Keys):
    """A material of your own, in full."""

    name: Text | None = Field(None, description="Name in the write-up; the key without it")
    family: choice(*FAMILIES) = Field(
        "unspecified", description="Decides which column curves are in scope and whether duration matters"
    )
    density: quantity("density", above=0) = Field(description="Density")
    youngs_modulus: StressSpread = Field(description="Along the member, short-term")
    poissons_ratio: number(above=-1, most=0.5) = Field(description="Poisson's ratio")
    yield_tension: StressSpread | None = Field(
        None,
        description="Yield strength in tension; brittle: the strength. Left out only where bending_strength is all that is known",
    )
    yield_compression: StressSpread = Field(description="Yield strength in compression")
    ultimate_tension: StressSpread | None = Field(None, description="Tensile strength, at the net section")
    ductile: YesNo | None = Field(
        None,
        description="Whether stress may redistribute (full plasticity); left out, yes; timber, or without yield_tension: no",
    )
    stress_strain: FileName | None = Field(
        None,
        description="CSV: strain as a fraction, stress in MPa, from the origin; it must agree with the modulus and the strengths",
    )
    conditions: Text = Field("", description="Temperature and rate the values were measured at")
    source: Text = Field("", description="Where the values come from")
    shear_modulus: Stress | None = Field(
        None, description="Where it does not follow from E and ν; timber needs it"
    )
    shear_strength: StressSpread | None = Field(
        None, description="Where it is not yield / √3; timber needs it"
    )
    bearing_strength: Stress | None = Field(
        None, description="Across the member, where it differs; timber needs it"
    )
    bending_strength: StressSpread | None = Field(None, description="Extreme fibre, where measured so")
    modulus_5_percent: Stress | None = Field(
        None, description="5 % fractile of the modulus along the grain: buckling of timber needs it"
    )
    thickness_up_to: Length | None = Field(
        None, description="Greatest thickness for which the strengths hold; thicker sections are not assessed"
    )
    class_values: YesNo = Field(
        False, description="Strengths are characteristic or nominal values, not means"
    )
    modulus_by_duration: dict[Text, number(above=0)] = Field(
        {}, description="Share of the short-term modulus left, such as `{10 years: 0.25}`"
    )
    strength_by_duration: dict[Text, number(above=0)] = Field({}, description="The same for strengths")
    modulus_by_temperature: dict[Text, number(above=0)] = Field(
        {}, description="Share of the modulus at the stated conditions, such as `{40 degC: 0.7}`"
    )
    strength_by_temperature: dict[Text, number(above=0)] = Field({}, description="The same for strengths")

    @field_validator("modulus_by_duration", "strength_by_duration")
    @classmethod
    def _durations(cls, value: dict) -> dict:
        return _quantity_keys(value, "duration")

    @field_validator("modulus_by_temperature", "strength_by_temperature")
    @classmethod
    def _temperatures(cls, value: dict) -> dict:
        return _quantity_keys(value, "temperature")


def _quantity_keys(value: dict, dimension: str) -> dict:
    for key in value:
        try:
            quantities.parse(key, dimension)
        except InputError as error:
            raise refuse(error.what, error.todo) from None
    return value


SHORT_TERM = "short-term test"


class Service(Keys):
    """How long the load acts and how warm it is; polymers and timber need it."""

    duration: Text = Field(SHORT_TERM, description="`short-term test`, or a duration such as `10 years`")
    temperature: quantity("temperature", least=-60, most=200) = Field(23.0, description="Temperature")

    @field_validator("duration")
    @classmethod
    def _known_duration(cls, value: str) -> str:
        if value == SHORT_TERM:
            return value
        try:
            seconds = quantities.parse(value, "duration")
        except InputError as error:
            raise refuse(error.what, f"{SHORT_TERM!r}, or {error.todo}") from None
        if seconds <= 0:
            raise refuse(f"{value!r} is out of range", "a duration above 0")
        return value


class PartialFactors(Keys):
    """Factors of safety; 1.0 is a study of tests."""

    material: number(least=1, most=10) = Field(
        1.0, description="Resistance is divided by it, in `design_load` and in `size`"
    )
    load: number(least=1, most=10) = Field(1.0, description="Loads are multiplied by it, in the same places")


class Bending(Keys):
    """A beam under transverse load."""

    kind: choice("bending") = Field("bending", description="Kind of load case")
    span: Length = Field(description="Between the supports, or the length of the cantilever")
    loading: choice(*cases.LOADINGS) = Field("three-point", description="Where the loads are")
    load_spacing: Length | None = Field(
        None, description="Between the two loads of four-point loading; a third of the span without"
    )
    restraint: choice(*cases.RESTRAINTS) = Field(
        "none", description="none: free to move sideways and twist; sideways: bends in its plane only"
    )
    load_height: choice(*cases.LOAD_HEIGHTS) = Field("top", description="Where the load acts")
    bearing_length: Length | None = Field(
        None, description="Along the member; bearing is not checked without"
    )
    deflection_limit: quantity("ratio", above=0, most=1) | None = Field(
        None, description="Deflection ÷ span at which it fails in service"
    )
    load_line: quantity("length") | None = Field(None, description="x of the load from the centroid")
    supports: choice(*cases.SUPPORTS) = Field("resting", description="resting can overturn; forked cannot")
    bow: quantity("ratio", least=0, most=0.1) = Field(0.002, description="Initial sideways bow ÷ span")

    @model_validator(mode="after")
    def _loads_on_the_span(self):
        if self.load_spacing is not None and self.loading != "four-point":
            raise refuse(
                f"load_spacing is given, but the loading is {self.loading}",
                "no load_spacing, or loading: four-point",
            )
        if self.load_spacing is not None and self.load_spacing >= self.span:
            raise refuse(
                f"the loads are {self.load_spacing:g} mm apart on a span of {self.span:g} mm",
                "a load_spacing less than the span",
            )
        return self


class Compression(Keys):
    """A column under axial load."""

    kind: choice("compression") = Field("compression", description="Kind of load case")
    length: Length = Field(description="Between the ends")
    ends: choice(*cases.ENDS) = Field("pinned-pinned", description="How both ends are held")
    ends_y: choice(*cases.ENDS) | None = Field(None, description="For movement in x, where it differs")
    column_curve: choice(*cases.COLUMN_CURVES) = Field("perry-robertson", description="Strength curve")
    bow: quantity("ratio", least=0, most=0.1) = Field(0.002, description="Initial bow ÷ length")
    eccentricity_x: quantity("length") = Field(0.0, description="x of the load from the centroid")
    eccentricity_y: quantity("length") = Field(0.0, description="y of the load from the centroid")


class Tension(Keys):
    """A tie under axial load."""

    kind: choice("tension") = Field("tension", description="Kind of load case")
    length: Length = Field(description="Between the ends")
    holes_area: quantity("area", least=0) = Field(0.0, description="Taken out at the weakest place")


class Torsion(Keys):
    """A shaft twisted by torques at its ends."""

    kind: choice("torsion") = Field("torsion", description="Kind of load case")
    length: Length = Field(description="Between the ends")
    ends: choice(*cases.TORSION_ENDS) = Field("free-to-warp", description="warping-held: ends stay plane")
    twist_limit: quantity("angle", above=0) | None = Field(
        None, description="Twist between the ends at which it fails in service"
    )


class Interaction(Keys):
    """Load cases that act on one member at once."""

    loads: dict[Name, Text] = Field(
        min_length=2,
        description="Load case and its load, a force, or a torque for torsion: `{bending: 1 kN, compression: 5 kN}`",
    )
    expression: choice(*EXPRESSIONS) = Field(
        "linear", description="linear: shares of the resistances add up; bending grows with compression"
    )


KINDS = {"bending": Bending, "compression": Compression, "tension": Tension, "torsion": Torsion}


def _kind(value: Any) -> str | None:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return kind if isinstance(kind, str) else None


LoadCase = Annotated[
    Annotated[Bending, Tag("bending")]
    | Annotated[Compression, Tag("compression")]
    | Annotated[Tension, Tag("tension")]
    | Annotated[Torsion, Tag("torsion")],
    Discriminator(_kind),
]


def kind_in(name: str) -> str | None:
    """The kind of load case its name says, such as ``short-bending``; None where it says none or two."""
    said = [kind for kind in KINDS if kind in name.casefold().replace("_", "-").replace(" ", "-").split("-")]
    return said[0] if len(said) == 1 else None


def with_kinds(value: Any) -> Any:
    """Add the kind to each load case whose name says it."""
    if not isinstance(value, dict):
        return value
    return {
        name: {"kind": kind_in(str(name)) or "", **case} if isinstance(case, dict) else case
        for name, case in value.items()
    }
