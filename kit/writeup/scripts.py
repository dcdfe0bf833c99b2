"""The one script that draws every chart of a page, kept on disk because it takes seconds to build."""

from __future__ import annotations

import base64
import hashlib
import tempfile
import zlib
from pathlib import Path

import vl_convert

# The scripts leave their one entry point on the window; all else stays inside the function.
ENTRY = "window.sectionStudyEmbed = vegaEmbed;"


def bundle(cache: Path | None = None) -> str:
    """Vega, Vega-Lite and Vega-Embed as one script, safe to put inside a ``script`` element.

    Parameters
    ----------
    cache : Path, optional
        Folder to keep it in; the user's cache folder by default. A folder that cannot be written is no error.
    """
    kept = (cache or _cache_folder()) / f"charts-{vl_convert.__version__}.js"
    try:
        return kept.read_text(encoding="utf-8")
    except OSError:
        pass
    script = _safe(f"(function(){{{vl_convert.javascript_bundle(ENTRY)}}})();")
    _keep(kept, script)
    return script


def _cache_folder() -> Path:
    """Where programs of this user keep what can be made again."""
    import platformdirs

    return platformdirs.user_cache_path("section-study")


def _keep(path: Path, text: str) -> None:
    """Write beside, then rename: two processes at once never leave half a file."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", dir=path.parent, delete=False, encoding="utf-8", newline=""
        ) as part:
            part.write(text)
        Path(part.name).replace(path)
    except OSError:
        return


def _safe(script: str) -> str:
    """The script without anything that could end its element or start a comment in HTML."""
    return script.replace("</script", "<\\/script").replace("<!--", "<\\!--").replace("\r\n", "\n")


def packed(script: str) -> str:
    """A script compressed (zlib) and written in base64: two fifths of its size; the page unpacks it.

    The page's policy names the unpacked script by its fingerprint, so nothing else can run in its place.
    """
    return base64.b64encode(zlib.compress(script.encode("utf-8"), 9)).decode("ascii")


def fingerprint(script: str) -> str:
    """How a content-security policy names this very script."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


def policy(scripts: list[str]) -> str:
    """A content-security policy that allows these scripts, styles and carried pictures, and no network."""
    allowed = " ".join(f"'{fingerprint(script)}'" for script in scripts) or "'none'"
    return (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; img-src data:; font-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
