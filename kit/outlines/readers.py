"""Which reader takes which specification. A reader yields the items of one file."""

from __future__ import annotations

from collections.abc import Callable

from kit.outlines.specs import DxfFiles, FontFiles, PointFiles, SvgFiles

SUFFIXES = {
    FontFiles: (".ttf", ".otf", ".ttc", ".otc", ".woff", ".woff2"),
    SvgFiles: (".svg",),
    DxfFiles: (".dxf",),
    PointFiles: (".csv",),
}


def reader_of(spec) -> Callable:
    """The reader of a specification; its parser is imported only now, where it is needed."""
    from kit.outlines.choosing import FaceNames

    if isinstance(spec, FaceNames):
        from kit.outlines.choosing import names_in as outlines_of
    elif isinstance(spec, FontFiles):
        from kit.outlines.fonts import outlines_of
    elif isinstance(spec, SvgFiles):
        from kit.outlines.svg import outlines_of
    elif isinstance(spec, DxfFiles):
        from kit.outlines.dxf import outlines_of
    else:
        from kit.outlines.points import outlines_of
    return outlines_of
