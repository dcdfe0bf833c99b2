"""XML from strangers: no entities, nothing fetched, no depth or size without end."""

from __future__ import annotations

from xml.etree import ElementTree
from xml.parsers import expat

from kit.errors import Unusable

DEEPEST = 100
MOST_ELEMENTS = 200_000


def parse(data: bytes) -> ElementTree.Element:
    """The root element; names are ``{namespace}tag``.

    Raises
    ------
    Unusable
        If the text is no XML, declares entities, or nests or counts beyond the limits.
    """
    builder = ElementTree.TreeBuilder()
    parser = expat.ParserCreate(namespace_separator="}")
    depth = count = 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth, count = depth + 1, count + 1
        if depth > DEEPEST or count > MOST_ELEMENTS:
            raise Unusable(
                f"its elements nest deeper than {DEEPEST} or are more than {MOST_ELEMENTS}; simplify it"
            )
        builder.start(_braced(name), {_braced(key): value for key, value in attributes.items()})

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1
        builder.end(_braced(name))

    def refuse(*_) -> None:
        raise Unusable("it declares entities, which are not read; save it as plain SVG")

    def instructed(target: str, _) -> None:
        if target == "xml-stylesheet":
            raise Unusable(
                "its style sheet is another file, which is not read; write fills as attributes instead"
            )

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.ProcessingInstructionHandler = instructed
    parser.CharacterDataHandler = builder.data
    parser.EntityDeclHandler = parser.ExternalEntityRefHandler = refuse
    parser.UnparsedEntityDeclHandler = refuse
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise Unusable(f"it is no sound XML ({error}); save the drawing again") from None
    return builder.close()


def _braced(name: str) -> str:
    return "{" + name if "}" in name else name
