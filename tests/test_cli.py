"""The command: exit status, one-screen messages, nothing heavy before it is needed."""

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from kit import cli
from kit.cli import VERBS, main, parser_of, printable
from kit.errors import InputError
from tests.study.files import SMALL, changed, written

HEAVY = ("pandas", "altair", "papermill", "pint", "numpy", "scipy", "shapely", "matplotlib", "pydantic")


def run(*arguments: str, folder: Path) -> subprocess.CompletedProcess:
    command = [sys.executable, "-m", "kit.cli", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120)


def test_help_imports_nothing_heavy():
    code = f"""
import sys
from kit.cli import parser_of
parser_of().format_help()
heavy = [name for name in {HEAVY} if name in sys.modules]
sys.exit(f"imported: {{heavy}}" if heavy else 0)
"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_help_names_every_verb_and_the_exit_status(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    text = capsys.readouterr().out
    assert ended.value.code == 0
    assert all(verb.name in text for verb in VERBS)
    assert "2 the input needs mending" in text


@pytest.mark.parametrize("arguments", [[], ["bake", "x.yml"], ["run"], ["run", "x.yml", "--workers", "0"]])
def test_a_wrong_command_ends_with_status_2(arguments, capsys):
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage: section-study" in capsys.readouterr().err


def with_fonts(keys: str) -> str:
    """The small study with an entry of fonts, in line 6, besides its shapes."""
    fonts = f"  - {{from: fonts, {keys}}}\nreference"
    return changed(
        ("reference", fonts), ("preparation: {", "preparation: {fit: {envelope: [60 mm, 60 mm]}, ")
    )


@pytest.mark.parametrize("verb", ["look", "run"])
@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "the parameter file is missing"),
        (changed(("title: A small study", "title: A\ntitle: B")), "given twice, first in line 2"),
        (changed(("span: 900 mm", "span: 900")), "the unit is missing"),
        (changed(("span: 900 mm", "span: '1,5 m'")), "1.5 m"),
        (changed(("span: 900 mm", "span: -900 mm")), "above 0 mm"),
        (changed(("title:", "titel:")), "did you mean 'title'?"),
        (changed(("{outline: bar}", "{outline: bat}")), "did you mean 'bar'?"),
        ("study: a\ntitle: b\noutlines: []\nreference: {outline: a}\nmaterial: steel-S235\n", "at least 1"),
        ("study: [", "not YAML"),
        (changed(("span: 900 mm", "span: 1e300 m")), "load_cases.bending.span"),
        (changed(("span: 900 mm", "span: 1e-300 mm")), "out of range"),
        (with_fonts("files: gone.ttf"), "line 6, outlines[2].files (looked in"),
        (with_fonts("files: '*.woff'"), "line 6, outlines[2].files (looked in"),
        (
            with_fonts("files: 'installed:matplotlib/DejaVuSans.ttf', characters: Z-A"),
            "outlines[2].characters:",
        ),
        (with_fonts("files: 'installed:matplotlib/DejaVuSans.ttf', labels: no.csv"), "outlines[2].labels:"),
        (changed(("reference", "exclude: no.csv\nreference")), "line 6, exclude:"),
        (changed(("material:", "report: {compare_with: nowhere}\nmaterial:")), "report.compare_with"),
        (changed(("material:", "trials: {pieces: nope.csv}\nmaterial:")), "nope.csv"),
    ],
)
def test_bad_input_says_what_and_where_on_one_screen_with_status_2(
    tmp_path, capsys, monkeypatch, verb, text, said
):
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "small.yml"
    if text is not None:
        file.write_text(text, encoding="utf-8")
    earlier = tmp_path / "results" / "small" / "sections.csv"
    earlier.parent.mkdir(parents=True)
    earlier.write_text("earlier results")
    assert main([verb, str(file)]) == 2
    message = capsys.readouterr().err
    assert said in message and "small.yml" in message
    assert len(message.splitlines()) <= 24
    assert "Traceback" not in message
    assert earlier.read_text() == "earlier results"
    assert sorted(p.name for p in earlier.parent.iterdir()) == ["sections.csv"]


def test_a_font_that_cannot_be_read_leaves_the_study_without_it(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "broken.ttf").write_bytes(b"\x00\x01\x00\x00 no font")
    fonts = "  - {from: fonts, files: broken.ttf, characters: A}\nreference"
    text = changed(
        ("reference", fonts), ("preparation: {", "preparation: {fit: {envelope: [60 mm, 60 mm]}, ")
    )
    assert main(["look", str(written(tmp_path, text))]) == 0
    out = capsys.readouterr().out
    assert "outlines: 2 used, 1 left out" in out
    assert "left out: broken.ttf" in out


def test_outlines_that_are_all_unusable_end_with_their_reasons(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "broken.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0'/></svg>")
    text = "study: a\ntitle: b\nreference: {outline: broken}\n"
    text += "outlines: [{from: svg, files: broken.svg, unit: mm}]\n"
    text += "material: steel-S235\nload_cases: {tension: {length: 1 m}}\n"
    assert main(["look", str(written(tmp_path, text))]) == 2
    assert "broken.svg" in capsys.readouterr().err


def test_look_lists_outlines_variants_cases_and_time_and_draws_the_sheet(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    more = "variants: {vary: {material: [steel-S235, aluminium-6060-T66]}}\n"
    assert main(["look", str(written(tmp_path, SMALL + more)), "--results", "out"]) == 0
    out = capsys.readouterr().out
    for part in (
        "bar, rod",
        "variants: 2",
        "aluminium-6060-T66",
        "bending (bending, 900 mm)",
        "estimate: 2 sections",
    ):
        assert part in out
    sheet = (tmp_path / "out" / "small" / "outlines.svg").read_text(encoding="utf-8")
    assert sheet.startswith(("<svg", "<?xml")) and "bar" in sheet
    assert sorted(p.name for p in (tmp_path / "out" / "small").iterdir()) == ["outlines.html", "outlines.svg"]


def test_new_writes_a_starter_and_never_over_a_file(tmp_path, capsys):
    file = tmp_path / "mine.yml"
    assert main(["new", str(file)]) == 0
    assert "section-study look" in capsys.readouterr().out
    file.write_text("mine")
    assert main(["new", str(file)]) == 2
    assert file.read_text() == "mine"
    assert "it exists already" in capsys.readouterr().err
    assert main(["new", str(tmp_path / "missing" / "a.yml")]) == 2
    assert main(["new", str(tmp_path / "a.txt")]) == 2


def test_the_starter_can_be_looked_at_as_it_is(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "mine.yml"]) == 0
    assert main(["look", "mine.yml"]) == 0
    out = capsys.readouterr().out
    assert "0 left out" in out and "my-study" in out


def test_run_hands_its_options_on_and_ends_with_the_status_of_the_study(tmp_path, capsys, monkeypatch):
    from kit.study import run

    given = {}

    def run_study(study, **options):
        given.update(options, name=study.name)
        return run.Outcome(3, tmp_path, "an audit failed")

    monkeypatch.setattr(run, "run_study", run_study)
    options = ("--workers", "2", "--results", "out", "--cluster", "tcp://here:1", "--pdf", "--force")
    assert main(["run", str(written(tmp_path)), *options]) == 3
    assert "an audit failed" in capsys.readouterr().out
    where = {"results": Path("out"), "cluster": "tcp://here:1", "workers": 2}
    assert given == {"name": "small", **where, "pdf": True, "force": True}


def acting(monkeypatch, act):
    verb = cli.Verb("look", "", cli._run_arguments, act)
    monkeypatch.setattr(cli, "parser_of", lambda: parser_of([verb]))


def test_a_stop_from_the_keyboard_says_how_to_go_on(monkeypatch, capsys):
    def act(options):
        raise KeyboardInterrupt

    acting(monkeypatch, act)
    asked = ["look", "my study.yml", "--workers", "2", "--cluster", "tcp://h:1", "--pdf"]
    assert main(asked) == 130
    assert f"go on with: section-study {shlex.join(asked)}" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (OSError(28, "No space left on device", "results/x.csv"), "results/x.csv:\nthe disk is full"),
        (OSError(28, "No space left on device"), "there:\nthe disk is full"),
        (OSError(13, "Permission denied", "results/x.csv"), "results/x.csv: Permission denied"),
    ],
)
def test_a_full_disk_or_a_missing_right_is_said_without_a_traceback(monkeypatch, capsys, error, said):
    def act(options):
        raise error

    acting(monkeypatch, act)
    assert main(["look", "a.yml", "--results", "there"]) == 2
    assert said in capsys.readouterr().err


def test_a_fault_of_the_kit_is_not_hidden(monkeypatch):
    def act(options):
        raise ZeroDivisionError

    acting(monkeypatch, act)
    with pytest.raises(ZeroDivisionError):
        main(["look", "a.yml"])


def test_names_cannot_steer_the_terminal(monkeypatch, capsys):
    def act(options):
        raise InputError("a name \x1b[2J\x07", "here", "another")

    acting(monkeypatch, act)
    main(["look", "a.yml"])
    assert "\x1b" not in capsys.readouterr().err
    assert printable("a\x1bb\nc") == "a\N{REPLACEMENT CHARACTER}b\nc"


def test_the_command_is_installed_under_its_name(tmp_path):
    ended = run("look", "none.yml", folder=tmp_path)
    assert ended.returncode == 2
    assert "none.yml" in ended.stderr
