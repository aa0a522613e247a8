"""The chart's one specification: the page's drawing and the library's drawing of it are the same picture."""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topout
from topout.bench_file.model import BenchFile, Change
from topout.bench_file.read import read
from topout.documents import chart_svg, charts, paper
from topout.documents.plan_pictures import PlanPictures, of_plan, of_state
from topout.documents.svg import INKS, RULES
from topout.planner import state
from topout.planner.plan import plan

HOLLIN = Path(__file__).parents[1] / "reference" / "hollin.toml"
STYLES = Path(topout.__file__).parent / "web" / "static"
WIDTHS = (288, 358, 560, 738, 900)
NS = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def bench() -> BenchFile:
    return read(HOLLIN)


@pytest.fixture(scope="module")
def pictures(bench: BenchFile) -> PlanPictures:
    return of_plan(bench, plan(bench, curves=True))


def changes() -> dict[str, Change | None]:
    """Plans whose labels meet in different ways."""
    return {
        "as asked": Change(travel_m=0.150, spacers=1, pressure_gauge_pa=70 * 6894.757),
        "no change": None,
        "shorter": Change(travel_m=0.120),
        "much longer": Change(travel_m=0.180, pressure_gauge_pa=90 * 6894.757),
        "two psi": Change(pressure_gauge_pa=74 * 6894.757),
        "near twice the pressure": Change(pressure_gauge_pa=118 * 6894.757),
    }


def drawn(bench: BenchFile, change: Change | None) -> PlanPictures:
    asked = replace(bench, change=change)
    return of_plan(asked, plan(asked, curves=True))


def elements(svg: str, tag: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(NS + tag))


def library_points(svg: bytes) -> dict[str, list[tuple[float, float]]]:
    """Lines of the library's SVG by their colour and width, in its own pixels with every translation added."""
    found: dict[str, list[tuple[float, float]]] = {}

    def walk(node: ET.Element, x: float, y: float) -> None:
        move = re.match(r"translate\(([-\d.]+)[, ]([-\d.]+)\)", node.get("transform", ""))
        if move:
            x, y = x + float(move.group(1)), y + float(move.group(2))
        if node.tag == NS + "path" and node.get("aria-roledescription") == "line mark":
            numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", node.get("d", ""))]
            key = f"{node.get('stroke')} {node.get('stroke-width')} {node.get('stroke-dasharray')}"
            found[key] = [(x + a, y + b) for a, b in zip(numbers[::2], numbers[1::2], strict=True)]
        for child in node:
            walk(child, x, y)

    walk(ET.fromstring(svg), 0.0, 0.0)
    return found


@pytest.mark.parametrize("width", [358, 738])
def test_page_and_library_draw_the_same_lines(pictures: PlanPictures, width: int) -> None:
    """Second way: vl-convert compiles and draws the specification; every point of every line within 0.1 px of ours."""
    spec = pictures.force(width)
    assert spec is not None
    theirs = library_points(paper.chart(spec, "svg"))
    ours = {
        path.get("class", ""): [
            (float(a), float(b)) for a, b in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d", ""))
        ]
        for path in elements(chart_svg.draw(spec, "f").svg(), "path")
    }
    looks = {
        "cb slow": f"{INKS['soft']} 3 9,5", "cb fast": f"{INKS['soft']} 1.5 6,4",
        "ca slow": f"{INKS['carbon']} 3 None", "ca fast": f"{INKS['carbon']} 1.5 None",
    }  # fmt: skip
    assert set(theirs) == set(looks.values())
    for cls, look in looks.items():
        assert np.abs(np.array(ours[cls]) - np.array(theirs[look])).max() < 0.11, cls


@pytest.mark.parametrize("width", [358, 738])
def test_page_and_library_write_the_same_words_at_the_same_places(pictures: PlanPictures, width: int) -> None:
    spec = pictures.force(width)
    assert spec is not None
    ours = {
        (t.text, round(float(t.get("x", "nan"))), round(float(t.get("y", "nan"))))
        for t in elements(chart_svg.draw(spec, "f").svg(), "text")
    }
    theirs = set()

    def walk(node: ET.Element, x: float, y: float) -> None:
        move = re.match(r"translate\(([-\d.]+)[, ]([-\d.]+)\)", node.get("transform", ""))
        if move:
            x, y = x + float(move.group(1)), y + float(move.group(2))
        if node.tag == NS + "text":
            theirs.add((node.text, round(x), round(y)))
        for child in node:
            walk(child, x, y)

    walk(ET.fromstring(paper.chart(spec, "svg")), 0.0, 0.0)
    assert {words for words, *_ in ours} == {words for words, *_ in theirs}
    for words, x, y in ours:
        assert any(w == words and abs(x - a) <= 1 and abs(y - b) <= 1 for w, a, b in theirs), words


@pytest.mark.parametrize("name", list(changes()))
@pytest.mark.parametrize("width", WIDTHS)
def test_no_label_touches_another_or_leaves_the_picture(bench: BenchFile, name: str, width: int) -> None:
    found = drawn(bench, changes()[name])
    for spec in (found.force(width), found.difference(width)):
        assert spec is not None
        boxes = _boxes(chart_svg.draw(spec, "f").svg(), spec["usermeta"]["text_px"])
        for i, (words, left, right, top, bottom) in enumerate(boxes):
            assert left > -6 and right < width + 6, (words, left, right)
            for other, left2, right2, top2, bottom2 in boxes[i + 1 :]:
                apart = right <= left2 or right2 <= left or bottom <= top2 or bottom2 <= top
                assert apart, (words, other)


def _boxes(svg: str, size: int) -> list[tuple[str, float, float, float, float]]:
    """Words with the edges of what they cover: measured with the face they are set in, capitals to base line."""
    from PIL import ImageFont

    fonts = Path(topout.__file__).parent / "documents" / "fonts"
    faces = {
        w: ImageFont.truetype(str(fonts / f), size)
        for w, f in ((400, "Inter_400Regular.ttf"), (600, "Inter_600SemiBold.ttf"))
    }
    result = []
    for text in elements(svg, "text"):
        words, x, y = text.text or "", float(text.get("x", "nan")), float(text.get("y", "nan"))
        wide = faces[600 if "ta" in text.get("class", "").split() else 400].getlength(words)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.get("text-anchor", "start")]
        result.append((words, left, left + wide, y - 0.73 * size, y))
    return result


@pytest.mark.parametrize("width", WIDTHS)
def test_text_is_at_least_20_px_and_18_on_a_phone(pictures: PlanPictures, width: int) -> None:
    spec = pictures.force(width)
    assert spec is not None
    sizes = {layer["mark"]["fontSize"] for layer in spec["layer"] if layer["mark"]["type"] == "text"}
    assert sizes == {20 if width >= 560 else 18}
    assert spec["width"] + spec["padding"]["left"] + spec["padding"]["right"] == width


def test_the_picture_says_its_numbers(pictures: PlanPictures) -> None:
    """The figures of the mock-up of this bike: mockups/plan.html, derived from its bench file."""
    spec = pictures.force(738)
    assert spec is not None
    says = spec["usermeta"]["says"]
    for figure in (
        "1\u202f950 newton slow",
        "2\u202f440 fast at 140 mm",
        "2\u202f030 newton slow",
        "2\u202f580 fast at 150 mm",
        "31.0 mm",
        "32.3 mm",
    ):
        assert figure in says
    difference = pictures.difference(738)
    assert difference is not None and "−80\u00a0N at 132\u00a0mm" in difference["usermeta"]["title"]


def test_fast_begins_at_sag_slow_at_full_extension(pictures: PlanPictures) -> None:
    spec = pictures.force(738)
    assert spec is not None
    starts = {
        layer["name"]: layer["data"]["values"][0]["x"] for layer in spec["layer"] if layer["mark"]["type"] == "line"
    }
    assert starts["before-slow"] == starts["after-slow"] == 0
    assert starts["before-fast"] == pytest.approx(31.0, abs=1e-3)
    assert starts["after-fast"] == pytest.approx(32.327, abs=1e-3)


def test_without_a_rider_fast_begins_at_full_extension(bench: BenchFile) -> None:
    alone = replace(bench, found=None, rider=None, change=None)
    parts = state.parts(alone)
    spec = of_state(alone, state.curve(alone, of=parts), state.sag(alone, of=parts), None).force(738)
    assert spec is not None
    starts = {
        layer["name"]: layer["data"]["values"][0]["x"] for layer in spec["layer"] if layer["mark"]["type"] == "line"
    }
    assert starts == {"one-slow": 0, "one-fast": 0}
    assert "sag" not in " ".join(_words(spec))


def _words(spec: dict[str, Any]) -> list[str]:
    return [
        row["text"] for layer in spec["layer"] if layer["mark"]["type"] == "text" for row in layer["data"]["values"]
    ]


def test_no_style_attribute_and_no_script_for_the_page(pictures: PlanPictures) -> None:
    """The content policy refuses both."""
    spec = pictures.force(738)
    assert spec is not None
    svg = chart_svg.draw(spec, "f").svg()
    assert "style" not in svg and "script" not in svg and " on" not in re.sub(r">[^<]*<", "><", svg)
    assert 'role="img"' in svg and "<title" in svg and "<desc" in svg


def test_files_are_what_their_ending_says(pictures: PlanPictures) -> None:
    spec = pictures.force(738)
    assert spec is not None
    png, pdf, svg = (paper.chart(spec, kind) for kind in ("png", "pdf", "svg"))
    assert png.startswith(b"\x89PNG") and struct.unpack(">II", png[16:24]) == (738 * 2, 396 * 2)
    assert pdf.startswith(b"%PDF-") and svg.startswith(b"<svg")
    assert paper.kind_of("a/b.PNG") == "png"
    with pytest.raises(paper.NoSuchPicture, match=r"\.svg, \.png or \.pdf"):
        paper.kind_of("curve.jpg")


def test_an_unknown_mark_is_an_error(pictures: PlanPictures) -> None:
    spec = pictures.force(738)
    assert spec is not None
    bent = {**spec, "layer": [{**spec["layer"][-1], "mark": {**spec["layer"][-1]["mark"], "type": "area"}}]}
    with pytest.raises(ValueError, match="area"):
        chart_svg.draw(bent, "f")


def test_paper_and_page_give_the_classes_the_same_looks() -> None:
    """RULES against pictures.css, INKS against the light tokens of style.css."""
    tokens = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (STYLES / "style.css").read_text().split("@media")[0]))
    for name in ("ink", "soft", "line", "carbon", "wash"):
        assert INKS[name] == tokens[name], name
    css = (STYLES / "pictures.css").read_text().split("@media")[0]
    rules: dict[str, dict[str, str]] = {}
    for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", re.sub(r"/\*.*?\*/", "", css, flags=re.S)):
        for selector in selectors.split(","):
            for part in re.findall(r"[a-z-]+: [^;]+", body):
                key, _, value = part.partition(": ")
                rules.setdefault(selector.strip(), {})[key] = value.strip()
    for name, rule in RULES.items():
        if name == "t":
            continue
        places = [f".{name}", f".fig .{name}", f".sa.{name}"]
        for key, value in rule.items():
            want = " ".join(f"{v:g}" for v in value) if isinstance(value, tuple) else str(value)
            want = f"var(--{want})" if want in INKS else want
            assert any(rules.get(place, {}).get(key, "").removesuffix(" !important") == want for place in places), (
                name,
                key,
            )


def test_every_mark_is_in_one_of_the_known_rooms() -> None:
    """A width between the two kinds of room keeps the larger text."""
    assert charts.room(559).text_px == 18 and charts.room(560).text_px == 20
