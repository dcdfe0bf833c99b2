"""A commented parameter file to start from."""

from pathlib import Path

from kit.errors import InputError
from kit.places import DATA


def write_starter(file: Path) -> str:
    """Write a starter study and say what to do with it.

    Parameters
    ----------
    file : Path
        It must not be there yet; its folder must.

    Raises
    ------
    InputError
        The file exists already, or cannot be written.
    """
    if file.suffix.casefold() not in (".yml", ".yaml"):
        raise InputError(f"{file.name!r} is no name of a YAML file", str(file), "a name that ends in .yml")
    text = (DATA / "starter.yml").read_text(encoding="utf-8")
    try:
        # "x": never over a file that is there, not even one made in this very moment.
        with file.open("x", encoding="utf-8", newline="\n") as opened:
            opened.write(text.replace("THIS-FILE", file.name))
    except FileExistsError:
        raise InputError("it exists already and is left as it is", str(file), "another name") from None
    except OSError as error:
        raise InputError(
            f"it cannot be written: {error.strerror}", str(file), "a folder that exists"
        ) from None
    return f"{file} is written. Look at it with: section-study look {file}"
