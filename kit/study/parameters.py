"""The parameter file: its model, and every problem in it at once."""

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from kit.study import keys_members, keys_outlines, keys_study
from kit.study.fields import FileName, Keys, Name, StudyName, Text, refuse, suggestion
from kit.study.keys_members import with_kinds
from kit.study.not_yet import not_yet
from kit.study.problems import Problem, problems_of, raise_all
from kit.study.yaml_reader import Document


class StudyFile(Keys):
    """Everything a parameter file says."""

    study: StudyName = Field(description="Short name; results go to `results/<study>/`")
    title: Text = Field(description="Title of the write-up")
    purpose: Text | None = Field(None, description="One sentence that opens the write-up")
    authors: tuple[keys_study.Author, ...] = Field((), description="Who made the study")
    licence: Text | None = Field(None, description="Licence of the results")
    outlines: tuple[keys_outlines.Outlines, ...] = Field(min_length=1, description="Which outlines")
    exclude: FileName | None = Field(None, description="CSV: outline, reason; they go to `left-out.csv`")
    reference: keys_outlines.Reference = Field(description="What every other section is compared with")
    preparation: keys_outlines.Preparation = Field(
        keys_outlines.Preparation(), description="From the drawn outline to the section"
    )
    materials: dict[Name, keys_members.Material] = Field({}, description="Your own, usable by name below")
    material: Text = Field(description="One of yours or of the library")
    service: keys_members.Service = Field(
        keys_members.Service(), description="Duration and temperature; polymers and timber need it"
    )
    partial_factors: keys_members.PartialFactors = Field(
        keys_members.PartialFactors(), description="Factors of safety"
    )
    load_cases: Annotated[dict[Name, keys_members.LoadCase], BeforeValidator(with_kinds)] = Field(
        {}, description="A name of your own: what it is"
    )
    interactions: dict[Name, keys_members.Interaction] = Field(
        {}, description="Load cases that act at once; results in `interactions.csv`"
    )
    variants: keys_study.Variants = Field(keys_study.Variants(), description="What the study varies")
    accuracy: keys_study.Accuracy = Field(keys_study.Accuracy(), description="How close is close enough")
    verification: keys_study.Verification = Field(
        keys_study.Verification(), description="How much is computed again"
    )
    uncertainty: keys_study.Uncertainty | None = Field(None, description="What scatters, how it is sampled")
    ranking: keys_study.Ranking = Field(keys_study.Ranking(), description="How outlines are ranked")
    limits: keys_study.Limits = Field(keys_study.Limits(), description="When to give up on one outline")
    test_plan: keys_study.TestPlan | None = Field(None, description="Which pieces to make and test")
    trials: keys_study.Trials | None = Field(None, description="Tests of real pieces")
    report: keys_study.Report = Field(keys_study.Report(), description="The write-up")

    @model_validator(mode="after")
    def _fits_together(self):
        for check in CROSS_CHECKS:
            check(self)
        return self


def _material_known(model: StudyFile) -> None:
    from kit.members.materials import library

    known = [*model.materials, *library()]
    if model.material not in known:
        raise at(
            ("material",),
            f"{model.material!r} is no material{suggestion(model.material, known)}",
            f"one of: {', '.join(known)}",
        )


def _reference_turned(model: StudyFile) -> None:
    angles = [angle % 360 for angle in model.preparation.orientations]
    if model.reference.orientation % 360 not in angles:
        listed = ", ".join(f"{angle:g} deg" for angle in model.preparation.orientations)
        raise at(
            ("reference", "orientation"),
            f"{model.reference.orientation:g} deg is not among preparation.orientations",
            f"one of: {listed}",
        )


def _reference_named(model: StudyFile) -> None:
    names = [entry.name for entry in model.outlines if entry.from_ == "shape"]
    if len(names) == len(model.outlines) and model.reference.outline not in names:
        near = suggestion(model.reference.outline, names)
        raise at(
            ("reference", "outline"),
            f"{model.reference.outline!r} is not among the outlines{near}",
            f"one of: {', '.join(names)}",
        )


def _shapes_named_once(model: StudyFile) -> None:
    seen: set[str] = set()
    for i, entry in enumerate(model.outlines):
        name = entry.name if entry.from_ == "shape" else None
        if name in seen:
            raise at(("outlines", i, "name"), f"{name!r} is given to two shapes", "each name once")
        if name:
            seen.add(name)


def _fonts_sized(model: StudyFile) -> None:
    if model.preparation.fit.scale is not None and any(e.from_ == "fonts" for e in model.outlines):
        raise at(
            ("preparation", "fit"),
            "characters of a typeface have no size of their own, so a scale cannot fit them",
            "envelope, cap_height, area or mass_per_length",
        )


def _cap_height_known(model: StudyFile) -> None:
    others = [entry.from_ for entry in model.outlines if entry.from_ != "fonts"]
    if model.preparation.fit.cap_height is not None and len(others) == len(model.outlines):
        raise at(("preparation", "fit", "cap_height"), "no outline comes from a typeface", "another fit")


def _cases_named(model: StudyFile) -> None:
    named = [(("ranking", "weights", name), name) for name in model.ranking.weights or ()]
    if model.report.shortlist.by is not None:
        named.append((("report", "shortlist", "by"), model.report.shortlist.by))
    for path, name in named:
        if name not in model.load_cases:
            near = suggestion(name, model.load_cases)
            listed = ", ".join(model.load_cases) or "no load case is given"
            raise at(path, f"{name!r} is no load case of this study{near}", f"one of: {listed}")


def _weights_weigh(model: StudyFile) -> None:
    weights = model.ranking.weights
    if weights is not None and not sum(weights.values()) > 0:
        raise at(
            ("ranking", "weights"),
            "no load case weighs anything" if weights else "nothing is given",
            "a weight above 0 for at least one load case, or no weights and no overall rank",
        )


# Columns of the table of sections that group outlines; labels add columns of one's own.
GROUPS = ("character", "family", "style", "font", "source")


def _groups_known(model: StudyFile) -> None:
    labelled = any(entry.labels for entry in model.outlines)
    for i, group in enumerate(model.ranking.group_by):
        if group in model.ranking.group_by[:i]:
            raise at(("ranking", "group_by", i), f"{group!r} is given twice", "each column once")
        if group not in GROUPS and not labelled:
            accepted = f"one of: {', '.join(GROUPS)}; or a column of the labels of the outlines"
            raise at(
                ("ranking", "group_by", i), f"{group!r} is no column{suggestion(group, GROUPS)}", accepted
            )


def _interactions_fit(model: StudyFile) -> None:
    from kit.study.loads import problem_of

    for name, keys in model.interactions.items():
        found = problem_of(keys, model.load_cases)
        if found:
            path, what, todo = found
            raise at(("interactions", name, *path), what, todo)


CROSS_CHECKS = (
    _material_known,
    _reference_turned,
    _reference_named,
    _shapes_named_once,
    _fonts_sized,
    _cap_height_known,
    _cases_named,
    _weights_weigh,
    _interactions_fit,
    _groups_known,
)


def at(path: tuple, found: str, accepted: str):
    """An error of the whole file that belongs to one key."""
    error = refuse(found, accepted)
    error.context["path"] = path
    return error


def validate(values: dict[str, Any]) -> StudyFile:
    """The model of a file's values; raises pydantic's ValidationError."""
    return StudyFile.model_validate(values)


def checked(document: Document) -> StudyFile:
    """The model of a parameter file.

    Raises
    ------
    InputError
        With every problem of the file: key path, line, what was found, what would be accepted.
    """
    problems = [Problem(path, what, todo) for path, what, todo in not_yet(document.values)]
    try:
        model = validate(document.values)
    except ValidationError as error:
        problems += problems_of(error, document.values, StudyFile)
        model = None
    if model and not model.load_cases:
        what = "a study without load cases is not available yet"
        problems.append(Problem(("load_cases",), what, "at least one load case"))
    raise_all(problems, document)
    return model
