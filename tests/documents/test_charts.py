"""The charts: each line where its axes say, labels clear of each other, one drawing for page, file and paper."""

from __future__ import annotations

import datetime as dt
import io
import re
import struct
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdf
import pytest
from PIL import Image

import topout
from topout.bench_file.model import BenchFile, Change
from topout.bench_file.read import read
from topout.documents import charts, paper, rear_charts
from topout.documents.plan_pictures import PlanPictures, of_plan, of_state
from topout.documents.svg import INKS, RULES, Drawing
from topout.planner import state
from topout.planner.plan import plan
from topout.units import BENCH, System, from_si

EXAMPLES = Path(__file__).parents[2] / "examples"
HOLLIN = Path(__file__).parents[1] / "reference" / "hollin.toml"
STYLES = Path(topout.__file__).parent / "web" / "static"
WIDTHS = (288, 358, 560, 738, 900)
AT = dt.datetime(2026, 11, 28, 12, tzinfo=dt.UTC)
NS = "{http://www.w3.org/2000/svg}"
INCHES = System(metric=False)


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


def force(pictures: PlanPictures, width: int, system: System = BENCH) -> Drawing:
    drawing = pictures.force(width, system=system)
    assert drawing is not None
    return drawing


def elements(svg: str, tag: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(NS + tag))


def scale(svg: str) -> tuple[Callable[[float], float], Callable[[float], float]]:
    """Pixels to millimetres and to newtons, read off the picture itself: the plain labels of each axis and their ticks."""
    drawn = [one for one in elements(svg, "text") if one.get("class") == "t"]

    def labels(anchor: str, axis: str) -> list[tuple[float, float]]:
        figures = [(one, (one.text or "").replace("\u202f", "")) for one in drawn if one.get("text-anchor") == anchor]
        return sorted((float(words), float(one.get(axis, "nan"))) for one, words in figures if words.isdigit())

    across, up = labels("middle", "x"), labels("end", "y")
    ticks = [float(one.get("y1", "nan")) for one in elements(svg, "line") if one.get("y1") == one.get("y2")]
    (mm1, x1), (mm2, x2) = across[0], across[-1]
    (n1, low), (n2, high) = up[0], up[-1]
    y1, y2 = (min(ticks, key=lambda tick: abs(tick - (place - 7))) for place in (low, high))
    return lambda x: mm1 + (x - x1) * (mm2 - mm1) / (x2 - x1), lambda y: n1 + (y - y1) * (n2 - n1) / (y2 - y1)


def lines(svg: str) -> dict[str, list[tuple[float, float]]]:
    """The curves of a picture by their part's name, in its pixels: `M` and `L` say where, `l` how far from there."""
    found: dict[str, list[tuple[float, float]]] = {}
    for path in elements(svg, "path"):
        points: list[tuple[float, float]] = []
        for letter, run in re.findall(r"([MLl])([^MLlZ]*)", path.get("d", "")):
            numbers = [float(each) for each in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", run)]
            for x, y in zip(numbers[::2], numbers[1::2], strict=False):
                points.append((points[-1][0] + x, points[-1][1] + y) if letter == "l" else (x, y))
        found[path.get("data-part", "")] = points
    return found


@pytest.mark.parametrize("width", [358, 738])
def test_lines_stand_where_the_axes_say(bench: BenchFile, pictures: PlanPictures, width: int) -> None:
    """Every point of every line, read back through the labels of the axes, is the plan's force at its travel."""
    svg = force(pictures, width).svg()
    to_mm, to_n = scale(svg)
    answer = plan(bench, curves=True)
    found = lines(svg)
    assert list(found) == ["before-slow", "before-fast", "after-slow", "after-fast"]
    for name, curve in (("before", answer.curve_before), ("after", answer.curve_after)):
        assert curve is not None and curve.force_fast_from_sag_n is not None
        for speed, force_n in (("slow", curve.force_n), ("fast", curve.force_fast_from_sag_n)):
            mm = np.array([to_mm(x) for x, _ in found[f"{name}-{speed}"]])
            n = np.array([to_n(y) for _, y in found[f"{name}-{speed}"]])
            assert len(mm) > 100
            # A tenth of a pixel is what a coordinate is written to: up to 0.1 mm across, and the steep end's newtons with it.
            steep = np.max(np.gradient(force_n, curve.travel_m * 1e3))
            assert np.abs(n - np.interp(mm, curve.travel_m * 1e3, force_n)).max() < 12 + 0.1 * steep, (name, speed)
            assert mm[-1] == pytest.approx(curve.travel_m[-1] * 1e3, abs=0.2)


@pytest.mark.parametrize("width", [358, 738])
def test_the_axes_of_an_inch_workshop_are_inches_and_pounds(
    bench: BenchFile, pictures: PlanPictures, width: int
) -> None:
    """The same lines, read back through axes in the other units; no figure in millimetres or newtons is left."""
    svg = force(pictures, width, INCHES).svg()
    to_in, to_lbf = scale(svg)
    answer = plan(bench, curves=True)
    assert answer.curve_after is not None
    inches = np.array([to_in(x) for x, _ in lines(svg)["after-slow"]])
    pounds = np.array([to_lbf(y) for _, y in lines(svg)["after-slow"]])
    forces = np.array([from_si(float(n), "lbf", "force") for n in answer.curve_after.force_n])
    along = np.array([from_si(float(m), "in", "length") for m in answer.curve_after.travel_m])
    steep = np.max(np.gradient(forces, along))
    assert np.abs(pounds - np.interp(inches, along, forces)).max() < 3 + 0.004 * steep
    assert inches[-1] == pytest.approx(0.150 / 0.0254, abs=0.008)
    for drawing in (force(pictures, width, INCHES), pictures.difference(width, system=INCHES)):
        assert drawing is not None
        words = " ".join([drawing.title, drawing.says, *(text.text or "" for text in elements(drawing.svg(), "text"))])
        assert re.findall(r"\b(?:mm|N|newton)\b", words) == [] and "lbf" in words, words


def test_the_library_rasters_what_the_pen_drew(pictures: PlanPictures) -> None:
    """Second way to the picture: along the line the raster is carbon, beside it white."""
    drawing = force(pictures, 738)
    image = np.asarray(Image.open(io.BytesIO(paper.drawing(drawing, "png", AT))).convert("RGB")).astype(int)
    carbon = np.array([int(INKS["carbon"][i : i + 2], 16) for i in (1, 3, 5)])
    for x, y in lines(drawing.svg())["after-slow"][60:190:10]:
        row, column = round(y * 2), round(x * 2)
        assert np.abs(image[row, column] - carbon).max() < 40, (x, y)
    assert (image[40, 300] == 255).all()


@pytest.mark.parametrize("name", list(changes()))
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("system", [BENCH, INCHES], ids=["mm", "in"])
def test_no_label_touches_another_or_leaves_the_picture(
    bench: BenchFile, name: str, width: int, system: System
) -> None:
    """At 358 px the "150" of the longer travel was cut at the picture's edge; the edge had 6 px of grace here."""
    found = drawn(bench, changes()[name])
    for drawing in (found.force(width, system=system), found.difference(width, system=system)):
        assert drawing is not None
        boxes = _boxes(drawing.svg(), int(drawing.text_px))
        for i, (words, left, right, top, bottom) in enumerate(boxes):
            assert left > -0.5 and right < width + 0.5, (words, left, right)
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
    drawing = force(pictures, width)
    assert drawing.text_px == (20 if width >= 560 else 18)
    assert drawing.width == width
    assert f"font:400 {drawing.text_px}px Inter" in drawing.for_paper()


def test_the_picture_says_its_numbers(pictures: PlanPictures) -> None:
    """The figures of the mock-up of this bike: mockups/plan.html, derived from its bench file."""
    says = force(pictures, 738).says
    for figure in (
        "1\u202f950 N slow",
        "2\u202f440 N fast at 140 mm",
        "2\u202f010 N slow",
        "2\u202f540 N fast at 150 mm",
        "31.0 mm",
        "32.5 mm",
    ):
        assert figure in says
    difference = pictures.difference(738)
    assert difference is not None and "−100\u00a0N at 132\u00a0mm" in difference.title


def starts(svg: str) -> dict[str, float]:
    """Where each line begins, in millimetres."""
    to_mm, _ = scale(svg)
    return {name: to_mm(points[0][0]) for name, points in lines(svg).items()}


def test_fast_begins_at_sag_slow_at_full_extension(pictures: PlanPictures) -> None:
    found = starts(force(pictures, 738).svg())
    assert found["before-slow"] == pytest.approx(0, abs=0.03) and found["after-slow"] == pytest.approx(0, abs=0.03)
    assert found["before-fast"] == pytest.approx(31.0, abs=0.03)
    assert found["after-fast"] == pytest.approx(32.471, abs=0.03)


def test_without_a_rider_fast_begins_at_full_extension(bench: BenchFile) -> None:
    alone = replace(bench, found=None, rider=None, change=None)
    parts = state.parts(alone)
    svg = force(of_state(alone, state.curve(alone, of=parts), state.sag(alone, of=parts), None), 738).svg()
    assert starts(svg) == {"one-slow": pytest.approx(0, abs=0.03), "one-fast": pytest.approx(0, abs=0.03)}
    assert "sag" not in " ".join(text.text or "" for text in elements(svg, "text"))


def test_no_style_attribute_and_no_script_for_the_page(pictures: PlanPictures) -> None:
    """The content policy refuses both."""
    svg = force(pictures, 738).svg()
    assert "style" not in svg and "script" not in svg and " on" not in re.sub(r">[^<]*<", "><", svg)
    assert 'role="img"' in svg and "<title" in svg and "<desc" in svg


def test_files_are_what_their_ending_says(pictures: PlanPictures) -> None:
    drawing = force(pictures, 738)
    png, pdf, svg = (paper.drawing(drawing, kind, AT) for kind in ("png", "pdf", "svg"))
    assert png.startswith(b"\x89PNG") and struct.unpack(">II", png[16:24]) == (738 * 2, 396 * 2)
    assert pdf.startswith(b"%PDF-") and svg.startswith(b"<svg")
    assert paper.drawing(drawing, "pdf", AT) == pdf, "the same picture gives the same bytes"
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    assert (page.mediabox.width, page.mediabox.height) == pytest.approx((738 * 0.75, 396 * 0.75))
    assert "before, fast" in page.extract_text()
    assert paper.kind_of("a/b.PNG") == "png"
    with pytest.raises(paper.NoSuchPicture, match=r"\.svg, \.png or \.pdf"):
        paper.kind_of("curve.jpg")


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


def test_each_figure_of_a_rear_pictures_axes_stands_at_its_tick() -> None:
    """Below the foot in one row, or left of the axis at its tick's height; all of it inside the picture."""
    curve = state.curve_behind(read(EXAMPLES / "rear-shock.toml"))
    drawing = rear_charts.force([rear_charts.Behind("before", curve, 0.015)], "rear-force")
    assert drawing is not None
    root = ET.fromstring(drawing.svg())
    ticks = [
        [float(each.get(k, "nan")) for k in ("x1", "y1", "x2", "y2")]
        for each in root.iter(f"{NS}line")
        if each.get("class") == "ax"
    ]
    texts = [each for each in root.iter(f"{NS}text") if re.fullmatch(r"[\d\u2009\u202f]+", each.text or "")]
    places = [(float(each.get("x", "nan")), float(each.get("y", "nan"))) for each in texts]
    foot = max(y2 for x1, _, x2, y2 in ticks if x1 == x2)
    upright = [y1 for x1, y1, x2, y2 in ticks if y1 == y2 and 0 < x2 - x1 < 20]
    left = min(x2 for _, y1, x2, y2 in ticks if y1 == y2)
    below = [y for x, y in places if x >= left]
    beside = [y for x, y in places if x < left]
    assert len(below) >= 3 and len(set(below)) == 1 and foot < below[0] <= float(root.get("height", "nan"))
    assert len(beside) >= 2
    end = max(
        (each for each in texts if float(each.get("y", "nan")) == below[0]),
        key=lambda each: float(each.get("x", "nan")),
    )
    assert curve.wheel_travel_m is not None and end.text == f"{curve.wheel_travel_m[-1] * 1e3:.0f}", "all of it is said"
    for y in beside:  # a figure's foot lies a third of its height below its tick
        assert 0 < y - max(tick for tick in upright if tick < y) < 0.5 * drawing.text_px


def test_the_axis_of_a_ratio_begins_near_its_least_and_that_of_a_rate_at_nothing() -> None:
    """A ratio between 2.3 and 2.9 would be a flat line over a nothing that no linkage has."""
    behind = [rear_charts.Behind("before", state.curve_behind(read(EXAMPLES / "rear-shock.toml")), 0.015)]
    least = {}
    for name, of in (("ratio", rear_charts.ratio), ("rate", rear_charts.rate)):
        drawing = of(behind, name)
        assert drawing is not None
        texts = [each for each in elements(drawing.svg(), "text") if each.get("text-anchor") == "end"]
        left = min(float(each.get("x", "nan")) for each in texts)
        least[name] = min(float(each.text or "nan") for each in texts if float(each.get("x", "nan")) == left)
    assert least["ratio"] > 2.0 and least["rate"] == 0.0
