"""Colour never tells alone (look.md B7 row 23): lines of a picture differ in dash or width, and each stands out from its
paper by 3:1 in grey and in the three kinds of colour vision, as Chromium simulates them, light and dark."""

from __future__ import annotations

import functools
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, FloatRect, Page

from web.browser import rules
from web.browser.demo_pages import demo_served, opened

pytestmark = pytest.mark.browser
VISION = ("none", "achromatopsia", "protanopia", "deuteranopia", "tritanopia")


@pytest.fixture(scope="module")
def demo_here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_served(demo_file, tmp_path_factory.mktemp("colour")) as address:
        yield address


@functools.cache
def luminance(rgb: tuple[int, ...]) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb[:3]]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def pixel(picture: Image.Image, x: float, y: float) -> tuple[int, ...]:
    colour = picture.getpixel((round(x), round(y)))
    assert isinstance(colour, tuple)
    return colour


def around(picture: Image.Image, x: float, y: float) -> list[tuple[int, ...]]:
    """The pixels that a line of a pixel and a half may lie on, wherever its edge falls."""
    return [pixel(picture, x + across, y + down) for across in (-1, 0, 1) for down in (-1, 0, 1)]


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


SERIES = """() => [...document.querySelectorAll('#part-force svg :is(.slow, .fast)')]
  .filter((e) => e.checkVisibility() && e.getTotalLength)
  .map((e) => { const c = getComputedStyle(e), at = e.getScreenCTM(), n = 24, end = e.getTotalLength();
    const points = [...Array(n).keys()].map((k) => { const p = e.getPointAtLength(end * (k + 0.5) / n).matrixTransform(at); return [p.x + scrollX, p.y + scrollY]; });
    return [e.getAttribute('class'), c.strokeDasharray, c.strokeWidth, points]; })"""


def shot(page: Page, clip: FloatRect) -> Image.Image:
    """What is on the screen. Of a part below it the browser takes a picture in another way, which on a busy machine once lacked a line."""
    return Image.open(io.BytesIO(page.screenshot(clip=clip))).convert("RGB")


def test_the_curves_are_told_apart_without_colour(chromium: Browser, demo_here: str) -> None:
    page = opened(chromium, demo_here, "plan")
    high = page.evaluate("document.documentElement.scrollHeight")
    rules.sized(page, (1180, high))
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        rules.settled(page)
        told_apart(page, theme)
    page.emulate_media(color_scheme="light")
    page.context.close()


def told_apart(page: Page, theme: str) -> None:
    """Every line of the curves by its dash and width, and from its paper in every kind of colour vision."""
    series = page.evaluate(SERIES)
    drawn = {(name, dash, width) for name, dash, width, _ in series}
    assert len(drawn) >= 4, "before and after, slow and fast"
    assert len({(dash, width) for _, dash, width in drawn}) == len(drawn), drawn
    box = page.locator("#part-force").bounding_box()
    assert box is not None
    place: FloatRect = {"x": int(box["x"]) - 2, "y": int(box["y"]) - 2, "width": int(box["width"]) + 4, "height": int(box["height"]) + 4}  # fmt: skip
    devtools = page.context.new_cdp_session(page)
    for kind in VISION:
        devtools.send("Emulation.setEmulatedVisionDeficiency", {"type": kind})
        picture = shot(page, place)
        paper: Any = max(picture.getcolors(1 << 24) or [])[1]
        for name, _, _, points in series:
            seen = sorted(
                max(contrast(each, paper) for each in around(picture, x - place["x"], y - place["y"]))
                for x, y in points
            )
            assert seen[-len(seen) // 4] >= 3, (theme, kind, name, seen[-1])


STROKES = """(picked) => [...document.querySelectorAll(picked)].filter((e) => e.checkVisibility())
  .map((e) => { const c = getComputedStyle(e); return [c.stroke, c.strokeDasharray, c.strokeWidth]; })"""


def test_the_stances_are_told_apart_without_colour(chromium: Browser, demo_here: str) -> None:
    """Before is dashed, after is not, but for its steering axis, which is dashed in another way; both in the inks of the curves,
    whose contrast is measured above."""
    page = opened(chromium, demo_here, "plan")
    before, after, curves = (
        page.evaluate(STROKES, f"{part} svg :is({classes})")
        for part, classes in (("#part-stance", ".sb"), ("#part-stance", ".sa"), ("#part-force", ".slow, .fast"))
    )
    assert len(before) >= 5 and len(after) >= 5
    assert all(dash != "none" for _, dash, _ in before)
    assert {dash for _, dash, _ in before}.isdisjoint(dash for _, dash, _ in after)
    assert {ink for ink, _, _ in before + after} <= {ink for ink, _, _ in curves}
    page.context.close()


def test_marks_of_the_ladder_are_told_apart_without_colour(chromium: Browser, demo_here: str) -> None:
    """Done, to come, at hand and hold points: by length, width and filling."""
    page = opened(chromium, demo_here, "steps")
    look = page.evaluate(
        """() => { const style = (s) => { const e = document.querySelector(`svg.ladder.tall ${s}`); if (!e) return null;
          const c = getComputedStyle(e); return [c.strokeWidth, c.fill]; };
        return { rail: style('.lrail'), done: style('.ldone'), now: style('.lnow'), hold: style('.lh:not(.done)'), held: style('.lh.done') }; }"""
    )
    assert look["rail"] and look["done"] and look["now"]
    assert look["rail"][0] != look["done"][0], "what is done is drawn thicker"
    lengths = page.evaluate(
        "() => Object.fromEntries(['lrail', 'ldone', 'lnow'].map((c) => [c, Math.max(...[...document.querySelectorAll(`svg.ladder.tall line.${c}`)].map((e) => Math.abs(e.x2.baseVal.value - e.x1.baseVal.value)))]))"
    )
    assert lengths["lnow"] > max(lengths["lrail"], lengths["ldone"])
    if look["hold"] and look["held"]:
        assert look["hold"][1] != look["held"][1]
    page.context.close()
