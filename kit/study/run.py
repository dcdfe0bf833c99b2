"""Run a whole study: its notebooks one after another or side by side, skipping what nothing has changed."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from kit.places import carried
from kit.study import inputs
from kit.study.drawing import Drawing
from kit.study.notebooks import NotebookTask, check
from kit.study.resolving import Study, Variant
from kit.study.results import PLAN, PREDICTIONS, TRIAL_TABLES, Folder, file_hash, write_text
from kit.study.scheduling import Stage, run_stages
from kit.study.writing import resolved_yaml

DONE, MEND, DOUBT = 0, 2, 3
CACHE = ".cache"
SECTION_FILES = (
    "sections.csv",
    "sections.parquet",
    "left-out.csv",
    "outlines.svg",
    "outlines.html",
    ".kept/polygons.parquet",
    ".kept/sections.json",
)
REPORT_FILES = (
    *("report.html", "members.csv", "members.parquet", "ranks.csv"),
    *("parameters.yml", "columns.csv", "environment.txt"),
)
PRINTED = "report.pdf"


@dataclass(frozen=True)
class Outcome:
    """How a run ended.

    Attributes
    ----------
    status : int
        0 done; 3 done, but an audit failed or results are provisional.
    folder : Path
        Where everything is.
    message : str
        What to tell the person who started it.
    """

    status: int
    folder: Path
    message: str


def run_study(
    study: Study,
    *,
    results: Path,
    workers: int | None = None,
    cluster: str | None = None,
    force: bool = False,
    pdf: bool = False,
) -> Outcome:
    """Run the study's notebooks and leave its results below ``results``.

    Parameters
    ----------
    study : Study
        As :func:`kit.study.resolving.load_study` gives it.
    results : Path
        Folder of all studies' results.
    workers : int, optional
        Processes at once; by default the processors this process may use.
    cluster : str, optional
        Address of a running scheduler that computes the sections; see :mod:`kit.study.cluster`.
    force : bool
        Run every notebook even where nothing has changed (sections still come from the store).
    pdf : bool
        Print the write-up to ``report.pdf`` too.

    Raises
    ------
    InputError
        If the input needs mending; earlier results stay as they were.
    NotebookFailed
        If a notebook stops for any other reason.
    """
    folder = Folder(study.results_folder(results))
    stages = _stages(study, folder, results.resolve(), (workers, cluster))
    for stage in stages:
        check(stage.task)
    if cluster:
        _reach(cluster)
    drawing = Drawing(workers)

    def begin(stage: Stage) -> None:
        if stage is stages[-1]:  # alone, while processors are idle
            drawing.make_ready()
            threading.Thread(target=_made_ready, args=(folder,), daemon=True).start()

    def finish(stage: Stage) -> None:
        if stage is stages[-1]:
            _sweep(folder, {stage.task.target.name for stage in stages})
            write_up(study, folder, drawing.draw)

    ran = run_stages(stages, folder, workers=workers, force=force, begin=begin, finish=finish)
    from kit.writeup import crate

    if pdf:
        from kit.writeup.pdf import print_page

        print_page(folder.path / "report.html", folder.path / PRINTED)
    if pdf or not (folder.path / crate.DESCRIPTOR).exists():
        describe(study, folder)
    return _outcome(folder, ran)


def _reach(cluster: str) -> None:
    """Refuse a scheduler that cannot be used before anything else is done."""
    from kit.study.cluster import connected

    with connected(cluster):
        pass


def write_up(study: Study, folder: Folder, draw: Callable | None = None) -> None:
    """Make the page of the executed report notebook, its stills by ``draw``, and what travels with it."""
    from kit.writeup import crate, page

    model = study.model
    executed = folder.path / "notebooks" / "report.ipynb"
    earlier = folder.notes("report")
    doubts = [*earlier["doubts"], *page.failures(executed)]
    folder.write_notes("report", earlier | {"doubts": doubts})
    page.build(
        executed,
        folder.path / "report.html",
        title=study.title,
        authors=[author.model_dump(exclude_none=True) for author in model.authors],
        banner=doubts,
        details={
            "purpose": model.purpose or "",
            "licence": model.licence or "",
            "figures": folder.path / "figures",
            "cache": folder.path.parent / CACHE,
            "unresolved": "said",
            "charts": model.report.charts,
        },
        draw=draw,
    )
    write_text(folder.path / "parameters.yml", resolved_yaml(study, folder.path))
    (folder.path / PRINTED).unlink(missing_ok=True)  # it shows the page of an earlier run
    crate.write_columns(folder.path, crate.tables(folder.path))
    crate.write_environment(folder.path)
    describe(study, folder)


def describe(study: Study, folder: Folder) -> None:
    """Write what the results folder holds, and what the study read."""
    from kit.writeup import crate

    told = study.model.model_dump(include={"title", "purpose", "licence", "authors"}, exclude_none=True)
    read = inputs.names_of([study.file, *inputs.input_files(study)])
    crate.write_crate(folder.path, told | {"name": study.name}, read, "section-study run parameters.yml")


def _made_ready(folder: Folder) -> None:
    """Load what the write-up needs; nothing waits for it."""
    from kit.writeup import crate, mathfont, page, scripts  # noqa: F401

    mathfont.rule()
    scripts.bundle(folder.path.parent / CACHE)


def _stages(study: Study, folder: Folder, results: Path, where: tuple) -> list[Stage]:
    book = carried("notebooks/study")
    common = (("study_file", str(study.file.resolve())), ("results", str(results)))

    def task(source: str, target: str, *more: tuple[str, object]) -> NotebookTask:
        return NotebookTask(book / source, folder.path / "notebooks" / target, (*common, *more))

    files = tuple((path.name, file_hash(path)) for path in inputs.input_files(study))
    sections = Stage(
        "sections",
        task("sections.ipynb", "sections.ipynb", ("workers", where[0]), ("cluster", where[1])),
        (),
        (inputs.of_sections(study), files),
        (),
        (*SECTION_FILES, "notebooks/sections.ipynb"),
    )
    verification = Stage(
        "verification",
        task("verification.ipynb", "verification.ipynb"),
        (),
        (
            inputs.of_sections(study),
            files,
            study.model.uncertainty,
            study.model.verification,
            bool(study.model.trials),
        ),
        (),
        ("checks.csv", "audit.csv", "notebooks/verification.ipynb"),
    )
    variants = [_variant_stage(study, variant, task) for variant in study.variants]
    left = [name for stage in variants for name in stage.files if name.endswith(".parquet")]
    trials = [_trials_stage(study, task)] if study.model.trials else []
    left += [name for stage in trials for name in stage.files]
    report = Stage(
        "report",
        task("report.ipynb", "report.ipynb"),
        tuple(stage.name for stage in (sections, verification, *variants, *trials)),
        (inputs.of_report(study), files, _earlier(study, folder)),
        ("sections.parquet", "checks.csv", "audit.csv", *left),
        (*REPORT_FILES, "notebooks/report.ipynb"),
    )
    return [sections, verification, *variants, *trials, report]


def _earlier(study: Study, folder: Folder) -> tuple[str, ...]:
    """Content of the earlier results that the write-up compares with."""
    if study.model.report.compare_with is None:
        return ()
    from kit.study.differences import earlier_tables

    return earlier_tables(study, folder)


def _variant_stage(study: Study, variant: Variant, task) -> Stage:
    name = f"variant-{variant.slug}"
    return Stage(
        name,
        task("variant.ipynb", f"{name}.ipynb", ("variant", variant.name)),
        ("sections",),
        inputs.of_variant(study, variant),
        ("sections.parquet",),
        (
            f".kept/members-{variant.slug}.parquet",
            f".kept/members-{variant.slug}.json",
            f"notebooks/{name}.ipynb",
        ),
        may_fail=True,
    )


def _trials_stage(study: Study, task) -> Stage:
    records = tuple((path.name, file_hash(path)) for path in inputs.trial_files(study))
    return Stage(
        "trials",
        task("trials.ipynb", "trials.ipynb"),
        ("sections",),
        (
            *(inputs.of_variant(study, variant) for variant in study.variants),
            study.model.trials,
            records,
            study.model.report.local_buckling,
        ),
        ("sections.parquet", f"{PLAN}/{PREDICTIONS}"),
        (
            *(f"{name}.csv" for name in TRIAL_TABLES),
            PREDICTIONS,
            ".kept/trials.json",
            "notebooks/trials.ipynb",
        ),
    )


def _sweep(folder: Folder, wanted: Collection[str]) -> None:
    """Remove what stages left that the study no longer has: their notebooks, and the tables of its trials."""
    if "trials.ipynb" not in wanted:
        for name in TRIAL_TABLES:
            (folder.path / f"{name}.csv").unlink(missing_ok=True)
    for notebook in (folder.path / "notebooks").glob("*.ipynb"):
        if notebook.name not in wanted:
            notebook.unlink()
    shutil.rmtree(folder.path / "notebooks" / ".ipynb_checkpoints", ignore_errors=True)


def _outcome(folder: Folder, ran: list[str]) -> Outcome:
    report = folder.notes("report")
    doubts = report.get("doubts", [])
    lines = [*doubts, f"write-up: {folder.path / 'report.html'}"]
    if not ran:
        lines.insert(0, "nothing has changed since the last run; its results stand")
    return Outcome(DOUBT if doubts else DONE, folder.path, "\n".join(lines))
