"""What decides what is seen of a drawing: read as a viewer shows it, or refused with the reason."""

import pytest
from svgpages import PAGE, area, refused

Q = '<rect width="50" height="50"'  # a quarter of the page
REST = '<rect x="50" width="10" height="10"/>'


@pytest.mark.parametrize(
    "clear",
    [
        'fill="#0000"',
        'fill="#00000000"',
        'fill="#ff000000"',
        'fill="transparent"',
        'fill="TRANSPARENT"',
        'fill="rgba(0,0,0,0)"',
        'fill="rgb(0 0 0 / 0%)"',
        'fill="rgb(10% 20% 30% / 0)"',
        'fill="hsla(120, 50%, 50%, 0)"',
        'fill="hsl(120deg 50% 50% / 0)"',
        'fill="currentColor" color="transparent"',
        'fill="NONE"',
        'fill-opacity="-1"',
        'fill-opacity="0.0"',
        'opacity="-1"',
        'opacity="0.001"',
        'opacity="0%"',
        'display="None"',
        'visibility="Hidden"',
        'style="/* none */fill:none"',
        'style="-webkit-opacity:0"',
        'fill="none" style="fill:"',
        'style="fill:black;fill:none"',
        'style="fill:none!important;fill:black"',
        'style="fill : none ! IMPORTANT ; fill:black"',
    ],
)
def test_what_is_clear_is_not_seen(clear):
    assert area(f"{Q} {clear}/>{REST}") == pytest.approx(100)


@pytest.mark.parametrize(
    "solid",
    [
        'fill="rgb(0%,0%,0%)"',
        'fill="rgb(0 0 0)"',
        'fill="rgb(0 0 0 / 99.9%)"',
        'fill="#000F"',
        'fill="hsl(77, 10%, 0%)"',
        'fill="hsl(77deg 10% 0%)"',
        'fill="currentColor"',
        'fill="currentColor" color="#000"',
        'fill="initial"',
        'fill="none" style="fill:initial"',
        'fill="none" style="fill:black"',
        'style="fill:black!important;fill:none"',
        'style="opacity:inherit" opacity="0"',
        'mask-image="none" scale="2" rotate="40"',
        'transform-origin="30 30"',
        'style="transform:none;mask:none;filter:none;translate:none"',
        'class="z"',
    ],
)
def test_what_is_solid_is_seen_in_one_colour(solid):
    assert area(f"{Q} {solid}/>{REST}") == pytest.approx(2600)


@pytest.mark.parametrize("faint", ['opacity="0.5"', 'fill-opacity="50%"', 'fill="#00000080"'])
def test_one_shade_is_one_outline_and_two_are_not(faint):
    assert area(f'{Q} {faint}/><g opacity="0.5">{REST}</g>') == pytest.approx(2600)
    assert "(#000000, #000000 at 50%)" in refused(f"{Q} {faint}/>{REST}")
    assert "several colours" in refused(f'{Q} {faint}/><g opacity="0.5"><g opacity="0.5">{REST}</g></g>')


def test_what_holds_it_together_may_make_it_clear():
    """0.04 × 0.04 is less than half a step of a screen."""
    assert area(f'<g opacity="0.04">{Q} fill-opacity="0.04"/></g>{REST}') == pytest.approx(100)


def test_a_clear_colour_is_inherited():
    body = f'<g color="transparent"><g fill="currentColor">{Q}/></g></g>{REST}'
    assert area(body) == pytest.approx(100)
    assert area(body.replace("<rect", '<rect color="black"', 1)) == pytest.approx(2600)


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (Q + ' fill="nocolour"/>', "no colour"),
        (Q + ' fill="#00000"/>', "no colour"),
        (Q + ' fill="none !important"/>', "no colour"),
        (Q + ' fill="rgb(0,0,0/0)"/>', "no colour"),
        (Q + ' fill="color-mix(in srgb, red, blue)"/>', "no colour"),
        (Q + ' fill="context-fill"/>', "no colour"),
        (Q + ' style="fill:var(--x)"/>', "sets fill"),
        (Q + ' opacity="calc(0)"/>', "sets opacity"),
        (Q + ' style="fill:revert"/>', "sets fill"),
        (Q + ' style="all:unset"/>', "sets all"),
        (Q + ' opacity="clear"/>', "opacity"),
        (Q + ' display="contents"/>', "displayed as"),
        (Q + ' visibility="half"/>', "visibility"),
        (Q + ' fill-rule="odd"/>', "fill-rule"),
        (Q + ' systemLanguage="en"/>', "systemLanguage"),
        ('<g requiredExtensions="http://example.org/x">' + Q + "/></g>", "requiredExtensions"),
        (Q + ' style="mask-image:url(#m)"/>', "mask-image"),
        (Q + ' style="-webkit-mask-image:linear-gradient(red,transparent)"/>', "mask-image"),
        (Q + ' style="-webkit-mask:url(#m)"/>', "decided by a mask"),
        (Q + ' style="-webkit-clip-path:circle(9px)"/>', "clip-path"),
        (Q + ' style="scale:2 1"/>', "(scale)"),
        (Q + ' style="rotate:30deg"/>', "(rotate)"),
        (Q + ' style="translate:9px"/>', "(translate)"),
        (Q + " style=\"offset-path:path('M0 0H9')\"/>", "(offset-path)"),
        (Q + ' style="-webkit-transform:scale(2)"/>', "(transform)"),
        ("<style>rect{scale:2}</style>" + Q + "/>", "(scale)"),
        (Q + ' transform="scale(.5)" transform-origin="9 9"/>', "(transform-origin)"),
        (Q + ' transform="scale(.5)" style="transform-box:fill-box"/>', "(transform-box)"),
        (Q + ' style="content-visibility:hidden"/>', "content-visibility"),
        (
            '<svg width="9" height="9" style="overflow:visible;overflow-x:hidden">' + Q + "/></svg>",
            "overflow-x",
        ),
        (Q + ' style="other:(;fill:none"/>', "in brackets"),
        (Q + " style=\"other:'a;fill:none;b'\"/>", "in brackets or quotes"),
        (Q + ' style="fi\\6c l:none"/>', "escapes"),
        ('<svg style="width:9px">' + Q + "/></svg>", "sized by a style"),
        ('<defs><set href="#r" attributeName="width" to="9"/></defs>' + Q + ' id="r"/>', "animation"),
        (Q + ' onload="go()"/>', "script"),
        ('<style media="(min-width: 9px)">rect{fill:none}</style>' + Q + "/>", "for some viewers only"),
        ('<style title="b">rect{fill:none}</style>' + Q + "/>", "for some viewers only"),
        ("<style>@media print{rect{fill:none}}</style>" + Q + "/>", "style sheet"),
        ('<path d="M10. 10L60 10V60z"/>', "path data"),
        ('<path d="M10,,10L60 10V60z"/>', "path data"),
        ('<path d=",M10 10L60 10V60z"/>', "path data"),
        ('<path d="M10 10L,60 10V60z"/>', "path data"),
        (Q + ' transform="scale(2),"/>', "transform"),
        (Q + ' transform=",scale(2)"/>', "transform"),
        ('<ellipse rx="auto" ry="10"/>', "auto"),
        ('<polygon points="10,,10 60,10 60,60"/>', "points"),
        (Q + ' transform="scale(2,,1)"/>', "transform"),
        ('<rect width="50 px" height="50"/>', "50 px"),
    ],
)
def test_what_would_be_misread_is_refused(body, reason):
    assert reason in refused(body + REST)


def test_what_holds_the_page_decides_too():
    assert "nothing is filled" in refused(Q + "/>", PAGE.replace(">", ' opacity="0">'))
    assert "nothing is filled" in refused(Q + "/>", PAGE.replace(">", ' style="visibility:hidden">'))
    assert "mask-image" in refused(Q + "/>", PAGE.replace(">", ' style="mask-image:url(#m)">'))


def test_important_declarations_win():
    sheet = "<style>.a{fill:none!important} .b{fill:black!important} #c{fill:none}</style>"
    assert area(f'{sheet}{Q} class="a" style="fill:black"/>{REST}') == pytest.approx(100)
    assert area(f'{sheet}{Q} class="b" id="c" style="fill:none"/>{REST}') == pytest.approx(2600)
    assert area(f'{sheet}{Q} class="b" style="fill:none!important"/>{REST}') == pytest.approx(100)


@pytest.mark.parametrize(
    ("which", "seen"),
    [
        ('media="print"', 2600),
        ('type="text/less"', 2600),
        ('media="screen"', 100),
        ('media="all" type="text/css"', 100),
    ],
)
def test_style_sheets_for_a_screen_count(which, seen):
    assert area(f"<style {which}>.q{{fill:none}}</style>{Q} class='q'/>{REST}") == pytest.approx(seen)


def test_commas_between_numbers_may_follow_the_last_one():
    for body in (
        '<path d="M0,0 50,0, L50,50,0,50,z"/>',
        '<path d="M0 0,H50,V50,H0z, "/>',
        '<polygon points="0,0,50,0,50,50,0,50,"/>',
        '<path d="M0-0+50-0 50 50,0+50"/>',
    ):
        assert area(body) == pytest.approx(2500)


def test_words_are_read_in_either_case():
    ring = '<path fill-rule="{}" d="M0 0h40v40h-40zM10 10h20v20h-20z"/>'
    assert area(ring.format("EvenOdd")) == pytest.approx(1200)
    assert area(ring.format("NONZERO")) == pytest.approx(1600)


STOPS = '<stop offset="0"{}/><stop offset="1"/>'


@pytest.mark.parametrize(
    ("gradient", "reason"),
    [
        ('<linearGradient id="a">' + STOPS + '</linearGradient><linearGradient id="g" href="#a"/>', ""),
        ('<linearGradient id="a">' + STOPS + '</linearGradient><radialGradient id="g" xlink:href="#a"/>', ""),
        (
            '<style>.z{{stop-opacity:0}}</style><linearGradient id="g"><stop class="z"{}/></linearGradient>',
            "fades",
        ),
        ('<style>stop{{stop-color:#f000}}</style><linearGradient id="g"><stop{}/></linearGradient>', "fades"),
        ('<linearGradient id="g"><stop style="stop-color:transparent"{}/></linearGradient>', "fades"),
        ('<linearGradient id="g"><stop style="stop-opacity:50%"{}/></linearGradient>', "fades"),
        ('<linearGradient id="g"{}/>', "paints nothing"),
        (
            '<linearGradient id="g" gradientTransform="scale(0)">' + STOPS + "</linearGradient>",
            "paints nothing",
        ),
        ('<linearGradient id="g" href="#g"{}/>', "not in it"),
        ('<linearGradient id="g" href="other.svg#a"{}/>', "not in it"),
        ('<radialGradient id="g" fx="95%">' + STOPS + "</radialGradient>", ""),
        ('<radialGradient id="g" fx="101%">' + STOPS + "</radialGradient>", "outside its circle"),
        ('<radialGradient id="g" cx="9" cy="9" r="3" fx="9" fy="9">' + STOPS + "</radialGradient>", ""),
        ('<radialGradient id="g" fr="20%">' + STOPS + "</radialGradient>", "outside its circle"),
    ],
)
def test_gradients_that_cover_and_gradients_that_do_not(gradient, reason):
    body = gradient.format("") + Q + ' fill="url(#g)"/>'
    if reason:
        assert reason in refused(body)
        return
    assert area(body) == pytest.approx(2500)
    for clear in (' stop-color="transparent"', ' stop-opacity="0"', ' stop-color="rgba(0,0,0,.5)"'):
        assert "fades away" in refused(gradient.format(clear) + Q + ' fill="url(#g)"/>')


def test_the_name_of_a_gradient_is_read_as_it_is_written():
    gradient = f'<linearGradient id="G">{STOPS.format("")}</linearGradient><pattern id="g"/>'
    assert area(gradient + Q + " fill=\"url('#G')\"/>") == pytest.approx(2500)
    assert "a pattern" in refused(gradient + Q + ' fill="url( #g )"/>')


def test_hidden_text_is_no_reason():
    assert area(f'<g>{Q}/><text display="none">a</text></g>') == pytest.approx(2500)
