"""Where the files that travel with the kit lie: in a checkout, or inside an installed wheel."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent
DATA = PACKAGE / "data"


def carried(relative: str) -> Path:
    """Path of a carried file or folder, such as ``notebooks/study``.

    Parameters
    ----------
    relative : str
        Path below the top of the checkout, with forward slashes.

    Raises
    ------
    FileNotFoundError
        If it is neither beside the package (a checkout) nor inside it (a wheel).
    """
    for top in (PACKAGE.parent, PACKAGE / "_checkout"):
        if (top / relative).exists():
            return top / relative
    raise FileNotFoundError(f"{relative} is missing: the kit was installed incompletely; install it again")
