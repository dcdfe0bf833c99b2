"""Published values and a sample of the sections, computed again."""

from __future__ import annotations

import sys

import pandas as pd

from kit import checks
from kit.study import auditing
from kit.study.resolving import Study
from kit.study.results import Folder, write_csv
from kit.study.stages.opening import seed_of
from kit.study.stages.sections import read_outlines, section_tasks


def recompute_published(study: Study) -> pd.DataFrame:
    """Published values of every area of mechanics that the study can touch, recomputed now."""
    return checks.recompute(_areas(study), study.model.verification.published, seed_of(study))


def published_count(study: Study) -> int:
    """How many published values :func:`recompute_published` recomputes."""
    return min(len(checks.registered(_areas(study))), study.model.verification.published or sys.maxsize)


def _areas(study: Study) -> list[str]:
    return ["sections", "members", "lateral", *(["trials"] if study.model.trials else [])]


def start_audit(study: Study, workers: int | None = None) -> auditing.Audit:
    """Have a seeded sample of the sections of the first preparation computed again by other routes.

    The outlines are read here and let go again: of thousands, a few are needed.
    """
    outlines, _ = read_outlines(study, workers)
    tasks, size = section_tasks(study, outlines)[0], study.model.verification.audit
    return auditing.start(auditing.sample(tasks, seed_of(study), size), workers)


def keep_verification(folder: Folder, published: pd.DataFrame, audited: pd.DataFrame) -> None:
    """Write ``checks.csv`` and ``audit.csv``."""
    write_csv(published.reset_index(), folder.path / "checks.csv")
    write_csv(audited, folder.path / "audit.csv")
