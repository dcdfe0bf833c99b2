"""From a parameter file to the objects a study works with."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path

from kit import quantities
from kit.errors import InputError
from kit.members import cases as members
from kit.members.materials import Material, Service
from kit.members.together import Together
from kit.outlines import specs
from kit.outlines.making import Making
from kit.study import keys_members, keys_outlines
from kit.study.loads import load_of
from kit.study.own_materials import material_of, without_unit
from kit.study.parameters import StudyFile, checked
from kit.study.variants import Choice, choices
from kit.study.writing import resolved_yaml
from kit.study.yaml_reader import Document, read_yaml

__all__ = ["Study", "Variant", "check_reference", "load_study", "resolved_yaml"]

HOURS = {"years": 8766.0, "months": 730.5, "days": 24.0, "hours": 1.0, "minutes": 1 / 60}
MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "pt": 25.4 / 72, "px": 25.4 / 96}


@dataclass(frozen=True)
class Variant:
    """One combination of the values a study varies, in the objects the other stages take.

    Attributes
    ----------
    name, slug : str
        As it is shown, and as a file name.
    values : tuple of (key path, text)
        What it sets.
    making : Making
    orientations : tuple of float
        Degrees.
    cases : tuple of LoadCase
    material : Material
    service : Service
    torsion_bounds : float
        Greatest (J_high − J_low) / J.
    material_factor, load_factor : float
        Partial factors.
    model : StudyFile
        The whole file with these values set.
    interactions : tuple of Together
        Load cases that act at once.
    """

    name: str
    slug: str
    values: tuple[tuple[str, str], ...]
    making: Making
    orientations: tuple[float, ...]
    cases: tuple[members.LoadCase, ...]
    material: Material
    service: Service
    torsion_bounds: float
    material_factor: float
    load_factor: float
    model: StudyFile
    interactions: tuple[Together, ...] = ()

    @property
    def accuracy(self):
        """Keys under ``accuracy``."""
        return self.model.accuracy


@dataclass(frozen=True)
class Study:
    """A parameter file, read and checked.

    Attributes
    ----------
    file : Path
        Absolute; paths in the file are relative to its folder.
    name, title : str
    model : StudyFile
    specs : tuple
        Where the outlines come from, one of `kit.outlines.specs` for each entry.
    variants : tuple of Variant
    document : Document
        What the file says, as text.
    """

    file: Path
    name: str
    title: str
    model: StudyFile
    specs: tuple[specs.Spec, ...]
    variants: tuple[Variant, ...]
    document: Document

    @property
    def base(self) -> Path:
        """Folder that relative paths in the file start from."""
        return self.file.parent

    @property
    def reference(self) -> tuple[str, float]:
        """Name and orientation (degrees) of the reference."""
        return self.model.reference.outline, self.model.reference.orientation

    @property
    def factored(self) -> bool:
        """Whether any variant has a partial factor other than 1."""
        return any((one.material_factor, one.load_factor) != (1.0, 1.0) for one in self.variants)

    def results_folder(self, root: Path | str = "results") -> Path:
        """Where the results of this study go."""
        return Path(root) / self.name


def load_study(path: Path | str) -> Study:
    """Read and check a parameter file.

    Raises
    ------
    InputError
        With all that needs mending.
    """
    file = Path(path).expanduser()
    document = read_yaml(file)
    model = checked(document)
    found = choices(document, model)
    try:
        variants = tuple(variant_of(choice, file.resolve().parent) for choice in found)
    except InputError as error:
        raise InputError(error.what, f"{file}, {error.where}", error.todo) from None
    entries = tuple(spec_of(entry) for entry in model.outlines)
    return Study(file.resolve(), model.study, model.title, model, entries, variants, document)


def spec_of(entry) -> specs.Spec:
    """One entry under ``outlines`` as the outlines stage takes it."""
    labels = getattr(entry, "labels", None) or ""
    unit = getattr(entry, "unit", None)
    unit_mm = None if unit is None else MM_PER_UNIT[unit]
    if isinstance(entry, keys_outlines.Fonts):
        axes = tuple((tag, values) for tag, values in (entry.axes or {}).items())
        choose = entry.choose and specs.Choose(
            entry.choose.styles or (), entry.choose.families, entry.choose.seed
        )
        return specs.FontFiles(entry.files, entry.characters, axes, entry.instances or (), choose, labels)
    if isinstance(entry, keys_outlines.Svg):
        return specs.SvgFiles(entry.files, unit_mm, entry.strokes, labels)
    if isinstance(entry, keys_outlines.Dxf):
        return specs.DxfFiles(entry.files, entry.layers or (), entry.gap, unit_mm, labels)
    if isinstance(entry, keys_outlines.Points):
        return specs.PointFiles(entry.files, unit_mm, labels)
    dimensions = tuple((entry.dimensions or {}).items())
    return specs.Shape(
        entry.name, entry.shape or "", dimensions, entry.designation or "", tuple(entry.labels.items())
    )


def making_of(model: StudyFile, material: Material) -> Making:
    """The preparation in plain numbers; a mass per length takes the material's density along."""
    keys = model.preparation
    name = next(key for key in type(keys.fit).model_fields if getattr(keys.fit, key) is not None)
    value = getattr(keys.fit, name)
    numbers = tuple(value) if isinstance(value, tuple) else (value,)
    if name == "mass_per_length":
        numbers = (*numbers, material.density_kg_m3)
    return Making(
        process=keys.process,
        fit=(name, numbers),
        flatten_mm=keys.flatten,
        cutter_radius_mm=keys.cutter_radius,
        least_wall_mm=keys.least_wall,
        separate_parts=keys.separate_parts,
        keep_area=keys.keep_area,
        web_mm=keys.web,
        stock_mm=keys.stock,
        most_points=model.limits.points,
    )


def case_of(name: str, keys) -> members.LoadCase:
    """One entry under ``load_cases`` as the members stage takes it: ``span`` is its ``span_mm``."""
    case = members.KINDS[keys.kind]
    given = {field.name: without_unit(field.name) for field in fields(case) if field.name != "name"}
    return case(
        name=name, **{name_: getattr(keys, key) for name_, key in given.items() if hasattr(keys, key)}
    )


def together_of(name: str, keys: keys_members.Interaction, model: StudyFile) -> Together:
    """One entry under ``interactions`` as the members stage takes it."""
    loads = {case: load_of(text, model.load_cases[case].kind) for case, text in keys.loads.items()}
    return Together(name, tuple(loads.items()), keys.expression)


def service_of(keys: keys_members.Service) -> Service:
    """Duration in the members' words and temperature in degC."""
    if keys.duration == keys_members.SHORT_TERM:
        return Service(keys.duration, keys.temperature)
    hours = quantities.parse(keys.duration, "duration") / 3600
    fitting = [unit for unit, size in HOURS.items() if hours >= size] or ["minutes"]
    return Service(f"{hours / HOURS[fitting[0]]:.12g} {fitting[0]}", keys.temperature)


def variant_of(choice: Choice, base: Path) -> Variant:
    """One variant in the objects the other stages take."""
    model = choice.model
    material = material_of(model, base)
    return Variant(
        name=choice.name,
        slug=choice.slug,
        values=tuple((key, _plain(value)) for key, value in choice.values),
        making=making_of(model, material),
        orientations=model.preparation.orientations,
        cases=tuple(case_of(name, keys) for name, keys in model.load_cases.items()),
        material=material,
        service=service_of(model.service),
        torsion_bounds=model.accuracy.torsion_bounds,
        material_factor=model.partial_factors.material,
        load_factor=model.partial_factors.load,
        model=model,
        interactions=tuple(together_of(name, keys, model) for name, keys in model.interactions.items()),
    )


def check_reference(study: Study, outlines: Iterable) -> None:
    """Refuse a reference that is not among the outlines that were read.

    Parameters
    ----------
    study : Study
    outlines : iterable of Outline, or of names

    Raises
    ------
    InputError
        With the names that come close.
    """
    names = [getattr(outline, "name", outline) for outline in outlines]
    wanted = study.model.reference.outline
    where = study.document.place(("outlines",))
    if not names:
        raise InputError("no outline could be read", where, "files that exist; see left-out.csv for reasons")
    if wanted in names:
        return
    folded = {name.casefold(): name for name in names}
    near = [folded[name] for name in difflib.get_close_matches(wanted.casefold(), folded, n=5, cutoff=0.4)]
    shown = near or names[:5]
    more = f" (of {len(names)})" if len(names) > len(shown) else ""
    raise InputError(
        f"{wanted!r} is not among the outlines",
        study.document.place(("reference", "outline")),
        f"the name of an outline, such as {', '.join(map(repr, shown))}{more}; `look` lists them all",
    )


def _plain(value) -> str:
    return value if isinstance(value, str) else str(value)
