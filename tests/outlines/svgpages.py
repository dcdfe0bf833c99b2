"""Small SVG pages the tests draw themselves: 100 mm square, one user unit a millimetre."""

from __future__ import annotations

import pytest

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.specs import SvgFiles
from kit.outlines.svg import drawing

FINE = Making(keep_area=True, separate_parts="leave-out")
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = f'{HEAD} width="100mm" height="100mm" viewBox="0 0 100 100">'


def svg(body, page=PAGE):
    """A document."""
    return f"{page}{body}</svg>".encode()


def outline(body, page=PAGE, **spec):
    """The outline of a document."""
    return drawing(svg(body, page), "d", "d.svg", SvgFiles((), **spec))


def area(body, page=PAGE, **spec):
    """Its area once prepared, mm2."""
    return prepare(outline(body, page, **spec), FINE).polygon.area


def stroke_area(body, **more):
    """The area of what is drawn in strokes, mm2."""
    return area(f'<g fill="none" stroke="black" stroke-width="10">{body}</g>', strokes="outline", **more)


def refused(body, page=PAGE, **spec):
    """The reason why a document is left out."""
    with pytest.raises(Unusable) as caught:
        area(body, page, **spec)
    return str(caught.value)
