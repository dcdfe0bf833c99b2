"""What a study reads: its files and the content its stages depend on."""

from __future__ import annotations

from pathlib import Path

from kit.outlines import specs
from kit.outlines.files import found_files
from kit.study.resolving import Study, Variant

# Keys that only the write-up reads.
TOLD = {"title", "purpose", "authors", "licence", "report", "ranking", "uncertainty", "verification"}

SUFFIXES = {
    specs.FontFiles: (".ttf", ".otf", ".ttc", ".otc", ".woff", ".woff2"),
    specs.SvgFiles: (".svg",),
    specs.DxfFiles: (".dxf",),
    specs.PointFiles: (".csv",),
}


def input_files(study: Study) -> list[Path]:
    """Every file the study reads, the parameter file apart, each once.

    Raises
    ------
    InputError
        If one that is named does not exist.
    """
    files: dict[Path, None] = {}
    for spec in study.specs:
        if type(spec) in SUFFIXES:
            files.update(dict.fromkeys(found_files(spec.files, study.base, SUFFIXES[type(spec)])[0]))
        if isinstance(getattr(spec, "labels", ""), str) and getattr(spec, "labels", ""):
            files.setdefault(study.base / spec.labels)
    if study.model.exclude:
        files.setdefault(study.base / study.model.exclude)
    for material in study.model.materials.values():
        if material.stress_strain:
            files.setdefault(study.base / material.stress_strain)
    files.update(dict.fromkeys(trial_files(study)))
    return list(files)


def pieces_file(study: Study) -> Path:
    """The table of test pieces."""
    return (study.base / study.model.trials.pieces).resolve()


def trial_files(study: Study) -> list[Path]:
    """Every file the trials read: the pieces' table, its records, predictions made before."""
    if study.model.trials is None:
        return []
    from kit.trials.pieces import read_pieces

    file = pieces_file(study)
    records = [file.parent / piece.record for piece in read_pieces(file)]
    planned = study.model.trials.predictions
    more = [(study.base / planned).resolve()] if planned else []
    return [file, *(path for path in dict.fromkeys(records) if path.is_file()), *more]


def of_sections(study: Study) -> str:
    """Everything the sections stage reads from the parameter file."""
    return study.model.model_dump_json(
        exclude={*TOLD, "load_cases", "interactions", "partial_factors", "service"}
    )


def of_variant(study: Study, variant: Variant) -> tuple:
    """Everything the members of a variant read."""
    return (
        variant.name,
        variant.making,
        variant.orientations,
        variant.cases,
        variant.material,
        variant.service,
        variant.torsion_bounds,
        (variant.material_factor, variant.load_factor, study.factored),
        study.reference,
        study.model.uncertainty,
        study.model.ranking.resample,
        study.model.report.local_buckling,
    )


def of_report(study: Study) -> str:
    """Everything the write-up reads: the whole file."""
    return study.model.model_dump_json()
