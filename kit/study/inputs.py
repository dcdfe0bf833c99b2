"""What a study reads: its files and the content its stages depend on."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from kit.errors import InputError
from kit.outlines import LeftOut, Outline, Shape, excluded, read
from kit.outlines.outline import clean
from kit.outlines.reading import exclusions, named
from kit.study.resolving import Study, Variant

# Keys that only the write-up reads.
TOLD = {"title", "purpose", "authors", "licence", "report", "ranking", "uncertainty", "verification"}


@contextmanager
def placed(study: Study) -> Iterator[None]:
    """What is wrong with a key of the study's file is said with the file, the line and the key's full path."""
    try:
        yield
    except InputError as error:
        key = re.match(r"(?:outlines\[(\d+)\]\.)?(\w+)(.*)", error.where, re.DOTALL)
        if key is None or (key[1] is None and key[2] not in type(study.model).model_fields):
            raise
        path = (key[2],) if key[1] is None else ("outlines", int(key[1]), key[2])
        raise InputError(error.what, study.document.place(path) + key[3], error.todo) from None


def outlines_of(study: Study, workers: int) -> tuple[list[Outline], list[LeftOut], list[Outline]]:
    """The outlines of a study, what was left out, and every outline that could be read, excluded or not.

    Raises
    ------
    InputError
        If what an entry names is not there, or the exclusions cannot be read; with the place in the file.
    """
    with placed(study):
        every, left_out = read(
            study.specs, study.base, seconds=study.model.limits.time_per_outline, workers=workers
        )
        outlines, excepted = excluded(every, study.model.exclude or "", study.base)
    return outlines, [*left_out, *excepted], every


def input_files(study: Study) -> list[Path]:
    """Every file the study reads, the parameter file apart, each once.

    Raises
    ------
    InputError
        If one that is named does not exist, or cannot be what it is named for.
    """
    files: dict[Path, None] = {}
    for number, spec in enumerate(study.specs):
        if not isinstance(spec, Shape):
            with placed(study):
                files.update(dict.fromkeys(named(spec, number, study.base)[0]))
        if isinstance(getattr(spec, "labels", ""), str) and getattr(spec, "labels", ""):
            files.setdefault(study.base / spec.labels)
    if study.model.exclude:
        with placed(study):
            exclusions(study.model.exclude, study.base)
        files.setdefault(study.base / study.model.exclude)
    for material in study.model.materials.values():
        if material.stress_strain:
            files.setdefault(study.base / material.stress_strain)
    with placed(study):
        files.update(dict.fromkeys(trial_files(study)))
    return list(files)


def names_of(files: Sequence[Path]) -> dict[str, Path]:
    """Each file by its name; where several share one, by as many of the folders above as tell them apart."""
    files = list(dict.fromkeys(files))
    parts = {file: file.resolve().parts for file in files}
    named, alike, long = {}, files, 0
    while alike:
        long += 1
        tails = Counter(parts[file][-long:] for file in alike)
        apart = {f for f in alike if tails[parts[f][-long:]] == 1 or long == len(parts[f])}
        named |= {
            "/".join(clean(part, 250) for part in parts[file][-long:]): file
            for file in alike
            if file in apart
        }
        alike = [file for file in alike if file not in apart]
    return named


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
