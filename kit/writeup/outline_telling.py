"""What a write-up says and shows of its outlines: the sheet, repairs, and fonts that restrict their use."""

from __future__ import annotations

from kit.study.results import Folder
from kit.study.sheets import MOST_ON_ONE_PICTURE
from kit.study.stages import Assembled
from kit.writeup.figures import Picture
from kit.writeup.numbers import count, share
from kit.writeup.provenance import fonts_of
from kit.writeup.tables import Prose, prose

SHEET, PAGE, REPAIRS = "outlines.svg", "outlines.html", "repairs.svg"


def outline_sheet(folder: Folder, found: Assembled) -> Picture | Prose:
    """Every outline small, used and left out; of very many only the name of the page that shows them."""
    used, left = found.sections.table["outline"].nunique(), len(found.sections.left_out)
    if used + left > MOST_ON_ONE_PICTURE:
        return prose(
            "All {used} outlines used and the {left} left out are drawn in `outlines.html` beside this page, by "
            "family and by character; too many to be carried in it. The best and the worst of each load case are "
            "drawn in [Figure](#fig:best-and-worst).",
            used=used,
            left=left,
        )
    return Picture(
        "outline-sheet",
        folder.text(SHEET),
        "The outline sheet",
        "Every outline, drawn and as cut; those left out stand at the end with the reason. A page to sort and search "
        f"is beside this one: {PAGE}.",
        f"{count(used, 'outline')} used, {left} left out.",
    )


def repairs(folder: Folder, found: Assembled) -> Picture | Prose:
    """The outlines whose repairs changed the most, before and after; a sentence where none was repaired."""
    table = found.sections.table
    mended = table[table["repaired_area_share"] > 0].drop_duplicates("outline")
    if not (folder.path / REPAIRS).exists():
        return prose("No outline needed a repair that changed its area.")
    worst = mended["repaired_area_share"].max()
    most = f", at most {share(worst)} of the area" if len(mended) else ""
    return Picture(
        "repairs",
        folder.text(REPAIRS),
        "Repairs, before and after",
        "Left as drawn, right as repaired, with what was done and how much of the area it changed; the most "
        "changed first, those that were left out for it among them.",
        f"{count(len(mended), 'outline')} used with repairs{most}.",
    )


def restricted(folder: Folder) -> Prose | None:
    """Which fonts forbid embedding, so that drawing their outlines here is a use to ask about."""
    names = [f"{one['font']} ({one['source']})" for one in fonts_of(folder) if forbids(one["embedding"])]
    if not names:
        return None
    return prose(
        "**Ask before publishing.** {count} by its embedding permission (fsType): {names}. Outlines drawn in a "
        "publication are a use of the font; its sections carry the flag *font-restricted*.",
        count="1 font is restricted" if len(names) == 1 else f"{len(names)} fonts are restricted, each",
        names="; ".join(names),
    )


def forbids(embedding: str) -> bool:
    """Whether a font's embedding permission forbids it.

    >>> forbids("restricted no-subsetting"), forbids("editable")
    (True, False)
    """
    return "restricted" in embedding.split()
