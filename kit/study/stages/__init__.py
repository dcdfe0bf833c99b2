"""What the study notebooks call, one function a step: read, compute, evaluate, assemble.

Each step is a plain function of the study and of the tables before it, so a notebook tells the story and a
reader can enter at any door. A module a stage; the notebooks call them all by this package's name.
"""

from kit.study.stages.members import Members, curves_kept, evaluated, make_members, with_factors
from kit.study.stages.opening import (
    STORE,
    folder_of,
    limits_of,
    open_study,
    preparations,
    reference_row,
    sections_of,
    variant_named,
)
from kit.study.stages.report import Assembled, assemble, keep_report
from kit.study.stages.sections import (
    keep_sections,
    left_out_of,
    make_sections,
    prepared_of,
    read_outlines,
    section_tasks,
    strength_ratios,
)
from kit.study.stages.verification import (
    keep_verification,
    published_count,
    recompute_published,
    start_audit,
)

__all__ = [
    "STORE",
    "Assembled",
    "Members",
    "assemble",
    "curves_kept",
    "evaluated",
    "folder_of",
    "keep_report",
    "keep_sections",
    "keep_verification",
    "left_out_of",
    "limits_of",
    "make_members",
    "make_sections",
    "open_study",
    "preparations",
    "prepared_of",
    "published_count",
    "read_outlines",
    "recompute_published",
    "reference_row",
    "section_tasks",
    "sections_of",
    "start_audit",
    "strength_ratios",
    "variant_named",
    "with_factors",
]
