"""The command ``section-study``: one verb a function, everything heavy imported inside it."""

import argparse
import atexit
import gc
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from kit import __version__
from kit.errors import InputError

DONE, FAILED, MEND, STOPPED = 0, 1, 2, 130


@dataclass(frozen=True)
class Verb:
    """One verb of the command.

    Attributes
    ----------
    name, summary : str
    arguments : callable
        Adds the verb's arguments to its parser.
    act : callable
        Does it; returns the exit status.
    """

    name: str
    summary: str
    arguments: Callable[[argparse.ArgumentParser], None]
    act: Callable[[argparse.Namespace], int]


def _file(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="parameter file (YAML)")


def _file_and_results(parser: argparse.ArgumentParser) -> None:
    _file(parser)
    parser.add_argument(
        "--results", type=Path, default=Path("results"), metavar="FOLDER", help="where results go (results/)"
    )


def _run_arguments(parser: argparse.ArgumentParser) -> None:
    _file_and_results(parser)
    parser.add_argument(
        "--workers", type=_workers, metavar="N", help="processes; all this one may use without"
    )
    parser.add_argument("--force", action="store_true", help="compute again what is kept from earlier runs")
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="a running dask scheduler: its address, its file, or `environment`",
    )
    parser.add_argument("--pdf", action="store_true", help="print the write-up to report.pdf too")


def _workers(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 1024:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 1024")
    return int(text)


def _new(options: argparse.Namespace) -> int:
    from kit.study.starter import write_starter

    print(write_starter(options.file))
    return DONE


def _look(options: argparse.Namespace) -> int:
    from kit.study.looking import look, summary
    from kit.study.resolving import load_study

    found = look(load_study(options.file), options.results)
    print(printable(summary(found)))
    return DONE


def _run(options: argparse.Namespace) -> int:
    from kit.study.resolving import load_study

    study = load_study(options.file)
    from kit.study.relay import shown_here
    from kit.study.run import run_study
    from kit.study.scheduling import NotebookFailed

    try:
        with shown_here():
            outcome = run_study(
                study,
                results=options.results,
                workers=options.workers,
                force=options.force,
                cluster=options.cluster,
                pdf=options.pdf,
            )
    except NotebookFailed as error:
        print(f"section-study: {printable(str(error))}", file=sys.stderr)
        return FAILED
    print(printable(outcome.message))
    return outcome.status


def _size_arguments(parser: argparse.ArgumentParser) -> None:
    _file(parser)
    parser.add_argument("--outline", required=True, metavar="NAME", help="which outline of the study")
    parser.add_argument(
        "--load", required=True, metavar="LOAD", help='the load itself, such as "2 kN"; torsion "0.5 kN m"'
    )
    parser.add_argument("--load-case", required=True, metavar="NAME", help="which load case of the study")
    parser.add_argument("--orientation", metavar="ANGLE", help='such as "90 deg"; the first of the study')
    parser.add_argument("--variant", metavar="NAME", help="which variant; the first of the study")


def _size(options: argparse.Namespace) -> int:
    from kit.study.resolving import load_study
    from kit.study.sizing import asked, size_outline, summary

    study = load_study(options.file)
    more = {"orientation": options.orientation, "variant": options.variant}
    wanted = asked(study, options.outline, options.load, options.load_case, more)
    print(printable(summary(wanted, *size_outline(study, wanted))))
    return DONE


def _plan(options: argparse.Namespace) -> int:
    from kit.study.planning import make_plan
    from kit.study.resolving import load_study

    print(printable(f"plan: {make_plan(load_study(options.file), options.results) / 'test-sheet.html'}"))
    return DONE


def _results_and_workers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("results", type=Path, metavar="RESULTS", help="results folder of one study")
    parser.add_argument(
        "--workers", type=_workers, metavar="N", help="processes; all this one may use without"
    )


def _repeat(options: argparse.Namespace) -> int:
    from kit.study.relay import shown_here
    from kit.study.repeating import repeat, told
    from kit.study.scheduling import NotebookFailed

    try:
        with shown_here():
            found = repeat(options.results, options.workers)
    except NotebookFailed as error:
        print(f"section-study: {printable(str(error))}", file=sys.stderr)
        return FAILED
    print(printable(told(found)))
    return found.status


# A new verb is one more row.
VERBS: tuple[Verb, ...] = (
    Verb("new", "write a commented parameter file to start from", _file, _new),
    Verb(
        "look",
        "check a study, list its outlines and variants, draw the outline sheet",
        _file_and_results,
        _look,
    ),
    Verb("run", "run a study: tables, figures, notebooks, write-up", _run_arguments, _run),
    Verb("size", "how big to make an outline so that it carries a load", _size_arguments, _size),
    Verb(
        "plan", "choose pieces to make and test: drawings, predictions, test sheet", _file_and_results, _plan
    ),
    Verb(
        "repeat",
        "run a stored study again and say, table by table, what differs",
        _results_and_workers,
        _repeat,
    ),
)

STATUS = (
    "exit status: 0 done; 2 the input needs mending; 3 done, but an audit failed, results are provisional, "
    "or a stored study does not repeat"
)


def parser_of(verbs: Sequence[Verb] = VERBS) -> argparse.ArgumentParser:
    """The parser of the command with these verbs."""
    parser = argparse.ArgumentParser(
        prog="section-study",
        description="Which outline makes the best beam, column, shaft or tie for its mass?",
        epilog=STATUS,
    )
    parser.add_argument("--version", action="version", version=f"%(prog)s {__version__}")
    subparsers = parser.add_subparsers(dest="verb", metavar="VERB", required=True)
    for verb in verbs:
        one = subparsers.add_parser(verb.name, help=verb.summary, description=verb.summary, epilog=STATUS)
        verb.arguments(one)
        one.set_defaults(act=verb.act)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns the exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process without it.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    options = parser_of().parse_args(arguments)
    atexit.register(gc.freeze)  # a process that ends need not collect its garbage first
    try:
        return options.act(options)
    except InputError as error:
        return _complain(str(error))
    except KeyboardInterrupt:
        return _stopped(options)
    except OSError as error:
        if error.filename is None and error.errno is None:
            raise
        from kit.study import disk

        if disk.is_full(error):
            return _complain(str(disk.full(error.filename or getattr(options, "results", "this command"))))
        place = error.filename or "a file"
        return _complain(f"{place}: {error.strerror or error}\nmend this and give the same command again")


def _complain(message: str) -> int:
    print(f"section-study: {printable(message)}", file=sys.stderr)
    return MEND


def _stopped(options: argparse.Namespace) -> int:
    print(
        f"\nsection-study: stopped. Finished sections are kept; go on with: {_again(options)}",
        file=sys.stderr,
    )
    return STOPPED


def _again(options: argparse.Namespace) -> str:
    import shlex

    words = ["section-study", options.verb, str(getattr(options, "file", None) or options.results)]
    if getattr(options, "file", None) and getattr(options, "results", None) not in (None, Path("results")):
        words += ["--results", str(options.results)]
    for name in ("workers", "cluster"):
        if getattr(options, name, None):
            words += [f"--{name}", str(getattr(options, name))]
    words += ["--pdf"] if getattr(options, "pdf", False) else []
    return printable(shlex.join(words))


def printable(text: str) -> str:
    """Text without control characters: names out of fonts and files could steer a terminal."""
    return "".join(c if c == "\n" or c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


if __name__ == "__main__":
    sys.exit(main())
