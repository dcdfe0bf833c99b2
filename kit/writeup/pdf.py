"""The page on paper: printed by a Chromium that is installed here, if there is one."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from kit.errors import InputError

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
FLAGS = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync",
    "--disable-component-update", "--no-pdf-header-footer", "--run-all-compositor-stages-before-draw",
)  # fmt: skip
SECONDS = 120


def browser() -> str | None:
    """Path of an installed Chromium or a browser made from it; the variable CHROMIUM names another."""
    named = os.environ.get("CHROMIUM")
    found = [named] if named else [shutil.which(name) for name in NAMES]
    there = [place for place in PLACES if Path(place).exists()]
    return next((one for one in [*found, *there] if one), None)


def print_page(html: Path, pdf: Path) -> Path:
    """Print a page to PDF, tagged and with page numbers.

    Parameters
    ----------
    html, pdf : Path
        The page, and the file to write (whole or not at all).

    Raises
    ------
    InputError
        If no such browser is installed, or it could not print.
    """
    program = browser()
    if program is None:
        raise InputError(
            "there is no Chromium to print with",
            "--pdf",
            "install Chromium (or name a browser made from it in the variable CHROMIUM), "
            f"or open {html.name} in any browser and print it from there",
        )
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "page.pdf"
        said = _run(program, html, made, Path(folder) / "profile")
        if not made.exists() or not made.read_bytes().startswith(b"%PDF"):
            raise InputError(
                f"{program} did not print {html.name}: {said}", "--pdf", "print it from a browser"
            )
        shutil.copyfile(made, pdf.with_suffix(".part"))
    pdf.with_suffix(".part").replace(pdf)
    return pdf


def _run(program: str, html: Path, pdf: Path, profile: Path) -> str:
    """Have the browser print; the end of what it complained of."""
    # Chromium refuses its sandbox to the superuser, as whom containers run.
    alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    command = [program, *FLAGS, *alone, f"--user-data-dir={profile}", f"--print-to-pdf={pdf}"]
    try:
        done = subprocess.run(
            [*command, html.resolve().as_uri()], capture_output=True, text=True, timeout=SECONDS, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as failed:
        return str(failed)
    return done.stderr.strip()[-400:]
