"""The stance read back from its SVG: wheels, axles, crown and bottom bracket stand where the geometry says."""

from __future__ import annotations

import datetime as dt
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from topout.bench_file.model import BenchFile, Change, Wheel
from topout.bench_file.read import read
from topout.documents import detail, paper, stance
from topout.documents.plan_pictures import PlanPictures, of_plan, of_state
from topout.planner import change as changes
from topout.planner import state
from topout.planner.plan import plan
from topout.units import System

HOLLIN = Path(__file__).parents[1] / "reference" / "hollin.toml"
NS = "{http://www.w3.org/2000/svg}"
AT = dt.datetime(2026, 11, 28, 12, tzinfo=dt.UTC)
HALF_A_PIXEL = 0.5


@pytest.fixture(scope="module")
def bench() -> BenchFile:
    return read(HOLLIN)


def bikes(bench: BenchFile) -> dict[str, BenchFile]:
    """The mock-up's bike and what stands differently: other wheels, a rear wheel in, no rider, offset, steep and long."""
    smaller = Change(travel_m=0.160, front_wheel=Wheel(bead_seat_m=0.584, tyre_height_m=0.064), offset_m=0.037)
    return {
        "as asked": bench,
        "smaller front wheel": replace(bench, change=smaller),
        "rear wheel in": replace(bench, rear_wheel=Wheel(bead_seat_m=0.622, tyre_height_m=0.058, sag_m=0.045)),
        "much longer": replace(bench, change=Change(travel_m=0.200)),
        "no rider": replace(bench, found=None, rider=None),
    }


def parts(svg: str) -> dict[str, dict[str, Any]]:
    """The named parts of a drawing with their attributes as numbers."""
    found = {}
    for node in ET.fromstring(svg).iter():
        name = node.get("data-part")
        if name:
            found[name] = {k: float(v) for k, v in node.attrib.items() if re.fullmatch(r"-?[\d.]+", v)}
    return found


@pytest.mark.parametrize("name", ["as asked", "smaller front wheel", "rear wheel in", "much longer", "no rider"])
@pytest.mark.parametrize("width", [288, 358, 738, 900])
def test_the_drawing_is_the_geometry_to_half_a_pixel(bench: BenchFile, name: str, width: int) -> None:
    """From the bench file and the plan's numbers alone, not from the drawing's own points."""
    one = bikes(bench)[name]
    result = plan(one, curves=True)
    pictures = of_plan(one, result)
    assert pictures.now is not None and pictures.was is not None
    read_back = parts(stance.stance(pictures.was, pictures.now, width).svg())
    scale = read_back["after-rear-wheel"]["r"] / _radius(
        one.rear_wheel
    )  # one length gives the scale, all others follow
    ground = read_back["ground"]["y1"]
    for which, file, of in (("before", one, result.before), ("after", changes.changed(one), result.after)):
        assert of.geometry is not None and file.fork is not None
        stands = of.geometry.sagged or of.geometry.unloaded
        sag = of.sag.front.travel_m if of.sag is not None and of.sag.front is not None and of.geometry.sagged else 0.0
        rear, front = read_back[f"{which}-rear-wheel"], read_back[f"{which}-front-wheel"]
        fork = read_back[f"{which}-fork"]
        assert rear["r"] == pytest.approx(_radius(file.rear_wheel) * scale, abs=HALF_A_PIXEL)
        assert front["r"] == pytest.approx(_radius(file.front_wheel) * scale, abs=HALF_A_PIXEL)
        for wheel in (rear, front):  # both stand on the ground
            assert ground - wheel["cy"] == pytest.approx(wheel["r"], abs=HALF_A_PIXEL)
        assert rear["cx"] == pytest.approx(read_back["after-rear-wheel"]["cx"], abs=0.05)  # the rear contact is held
        rise = _radius(file.front_wheel) - _radius(file.rear_wheel)
        axles = math.hypot(front["cx"] - rear["cx"], front["cy"] - rear["cy"])
        assert axles == pytest.approx(math.hypot(stands.wheelbase_m, rise) * scale, abs=HALF_A_PIXEL)
        crown_to_foot = math.hypot(fork["x2"] - fork["x1"], fork["y2"] - fork["y1"])
        assert file.fork.length_m is not None and sag is not None
        assert crown_to_foot == pytest.approx((file.fork.length_m - sag) * scale, abs=HALF_A_PIXEL)
        foot_to_axle = math.hypot(front["cx"] - fork["x2"], front["cy"] - fork["y2"])
        assert foot_to_axle == pytest.approx((file.fork.offset_m or 0.0) * scale, abs=HALF_A_PIXEL)
        lean = math.degrees(math.atan2(fork["y2"] - fork["y1"], fork["x2"] - fork["x1"]))
        assert lean == pytest.approx(math.degrees(stands.head_angle_rad), abs=0.15)
        meets = read_back[f"{which}-axis"]["x2"]
        assert meets - front["cx"] == pytest.approx(stands.trail_m * scale, abs=HALF_A_PIXEL)
    bracket = read_back["after-bottom-bracket"]
    stands = result.after.geometry.sagged or result.after.geometry.unloaded  # type: ignore[union-attr]
    assert ground - bracket["cy"] == pytest.approx(stands.bb_height_m * scale, abs=HALF_A_PIXEL)
    front = read_back["after-front-wheel"]
    centre = math.hypot(front["cx"] - bracket["cx"], front["cy"] - bracket["cy"])
    assert centre == pytest.approx(stands.front_centre_m * scale, abs=HALF_A_PIXEL)


def test_every_round_part_grows_with_the_picture(bench: BenchFile) -> None:
    """Hubs, stem, crank and eyes: none has a size in pixels of its own."""
    pictures = pictures_of(bench)
    assert pictures.now is not None and pictures.was is not None
    sizes, scales = [], []
    for width in (738, 900):
        svg = stance.stance(pictures.was, pictures.now, width).svg()
        scales.append(parts(svg)["after-rear-wheel"]["r"])
        whole = [node for node in ET.fromstring(svg).iter(f"{NS}circle") if (node.get("class") or "").startswith("s")]
        sizes.append([float(node.get("r") or 0) for node in whole])
    assert len(sizes[0]) == len(sizes[1]) > 8 and scales[1] > scales[0] * 1.1
    for small, large in zip(*sizes, strict=True):
        assert small > 1 and large == pytest.approx(small * scales[1] / scales[0], abs=0.15)


def _radius(wheel: Wheel | None) -> float:
    assert wheel is not None and wheel.bead_seat_m is not None and wheel.tyre_height_m is not None
    return wheel.bead_seat_m / 2 + wheel.tyre_height_m


def pictures_of(bench: BenchFile) -> PlanPictures:
    return of_plan(bench, plan(bench, curves=True))


def test_the_chainstay_is_as_long_as_the_chart_says(bench: BenchFile) -> None:
    """Rear axle to bottom bracket, neither of which is drawn from the chainstay: 434 mm in the file."""
    pose = pictures_of(bench).now.pose  # type: ignore[union-attr]
    x, y = pose.bottom_bracket[0] - pose.rear_axle[0], pose.bottom_bracket[1] - pose.rear_axle[1]
    assert math.hypot(x, y) == pytest.approx(0.434, abs=1e-9)


def test_the_windows_show_the_moves_of_the_mockup(bench: BenchFile) -> None:
    """mockups/plan.html: A 4.3 mm higher; B 9.0 mm higher, 5.7 back since the lower legs grow with the fork; ten times larger at 738 px."""
    found = pictures_of(bench)
    assert found.was is not None and found.now is not None
    on, _ = stance.paper(found.was, found.now, 738)
    assert detail.factor_of(found.was, found.now, on) == 10
    moves = {}
    for letter in "AB":
        drawn = detail.detail(letter, found.was, found.now, on, f"d{letter}")
        points = parts(drawn.svg())
        scale = on.px_per_m * 10 / 1000
        was, now = points[f"{letter}-before"], points[f"{letter}-after"]
        moves[letter] = ((now["cx"] - was["cx"]) / scale, (was["cy"] - now["cy"]) / scale)
    assert moves["A"][1] == pytest.approx(4.3, abs=0.1)
    assert moves["B"] == (pytest.approx(-5.7, abs=0.1), pytest.approx(9.0, abs=0.1))
    assert "4.3\u00a0mm higher" in detail.moved(detail.windows(found.was)["A"], detail.windows(found.now)["A"])


@pytest.mark.parametrize("travel_mm", [80, 120, 145, 180, 220])
@pytest.mark.parametrize("width", [358, 738])
def test_both_states_stay_inside_the_windows(bench: BenchFile, travel_mm: int, width: int) -> None:
    found = pictures_of(replace(bench, change=Change(travel_m=travel_mm / 1e3)))
    assert found.was is not None and found.now is not None
    on, _ = stance.paper(found.was, found.now, width)
    for letter in "AB":
        points = parts(detail.detail(letter, found.was, found.now, on, "d").svg())
        for name, point in points.items():
            assert 0 < point["cx"] < detail.DETAIL_PX[0] and 0 < point["cy"] < detail.DETAIL_PX[1], (letter, name)


def test_everything_drawn_stays_inside_the_picture(bench: BenchFile) -> None:
    for name, one in bikes(bench).items():
        found = pictures_of(one)
        assert found.was is not None and found.now is not None
        for width in (288, 358, 738):
            drawing = stance.stance(found.was, found.now, width)
            for node in ET.fromstring(drawing.svg()).iter(NS + "circle"):
                x, y, r = (float(node.get(k, "nan")) for k in ("cx", "cy", "r"))
                assert r - 1 <= x <= width - r + 1 and r - 1 <= y <= drawing.height - r + 1, (name, width)


def test_it_says_what_it_shows(bench: BenchFile) -> None:
    """The figures of mockups/plan.html, and where the bike stands."""
    found = pictures_of(bench)
    svg = stance.stance(found.was, found.now, 738, at_sag=found.at_sag).svg()  # type: ignore[arg-type]
    assert "Head angle 67.6 to 67.0 degrees, bottom bracket 326 to 330 mm, trail 105 to 111 mm" in svg
    assert "at sag, before and after, to scale" in svg
    narrow = ET.fromstring(stance.stance(found.was, found.now, 358, at_sag=found.at_sag).svg())  # type: ignore[arg-type]
    said = ["".join(each.itertext()).replace("\u00a0", " ") for each in narrow.iter(f"{NS}text")]
    assert {"trail 105 → 111 mm", "head angle 67.6 → 67.0°"} <= set(said), said
    free = pictures_of(replace(bench, found=None, rider=None))
    assert not free.at_sag
    assert "at full extension" in stance.stance(free.was, free.now, 738, at_sag=free.at_sag).svg()  # type: ignore[arg-type]


def test_one_state_alone(bench: BenchFile) -> None:
    whole = state.parts(bench)
    found = of_state(bench, None, state.sag(bench, of=whole), state.geometry_of(bench, of=whole))
    assert found.was is None and found.now is not None
    names = parts(stance.stance(None, found.now, 738).svg())
    assert "after-front-wheel" in names and not any(name.startswith(("before", "window")) for name in names)


def test_paper_gets_the_inks_and_the_page_does_not(bench: BenchFile) -> None:
    found = pictures_of(bench)
    drawing = stance.stance(found.was, found.now, 738)  # type: ignore[arg-type]
    assert "style" not in drawing.svg()
    assert paper.drawing(drawing, "pdf", AT).startswith(b"%PDF-")
    png = paper.drawing(drawing, "png", AT)
    from io import BytesIO

    from PIL import Image

    picture = Image.open(BytesIO(png)).convert("RGB")
    assert picture.width == 738 * 2
    colours = {colour for _, colour in picture.getcolors(1 << 24) or []}
    assert (42, 61, 168) in colours  # carbon, as in style.css


@pytest.mark.parametrize("width", [358, 738])
def test_the_stance_of_an_inch_workshop_says_inches(bench: BenchFile, width: int) -> None:
    """Picture, its words and both windows: no figure in millimetres is left, and 110.6 mm of trail is 4.35 in."""
    found = of_plan(bench, plan(bench))
    assert found.was is not None and found.now is not None
    system = System(metric=False)
    drawing = stance.stance(found.was, found.now, width, system=system)
    on, _ = stance.paper(found.was, found.now, width)
    windows = [detail.detail(x, found.was, found.now, on, x, system=system).svg() for x in "AB"]
    moves = [detail.moved(detail.windows(found.was)[x], detail.windows(found.now)[x], system) for x in "AB"]
    words = re.sub(r"<[^>]*>", " ", " ".join([drawing.svg(), *windows, *moves])).replace("\u00a0", " ")
    assert not re.search(r"\d mm\b", words) and "4.35 in" in words and "0.5 in" in words, words
    assert moves[0].startswith("0.17\u00a0in higher")
    ruler = re.search(r'M?x1="12" y1="138" x2="([\d.]+)"', windows[0])
    assert ruler is not None
    scale = on.px_per_m * detail.factor_of(found.was, found.now, on)
    assert float(ruler.group(1)) - 12 == pytest.approx(0.5 * 0.0254 * scale, abs=0.1)


@pytest.mark.parametrize("width", [358, 738])
def test_a_saddle_far_above_the_head_tube_has_its_room(bench: BenchFile, width: int) -> None:
    found = pictures_of(bench)
    assert found.now is not None and found.now.pose.seat is not None
    pose = found.now.pose
    x, _ = pose.seat.saddle  # type: ignore[union-attr]
    for up_m in (-0.2, 0.1, 0.6):
        high = pose.head_top[1] + up_m
        seat = replace(pose.seat, saddle=(x, high))  # type: ignore[type-var]
        paper_, height = stance.paper(None, replace(found.now, pose=replace(pose, seat=seat)), width)
        tops = [paper_.ground - y * paper_.px_per_m for y in (high, pose.head_top[1])]
        assert min(tops) >= 8.0 and paper_.ground < height, up_m
        wanted = max(
            (84.0 if width >= 560 else 10.0) + pose.head_top[1] * paper_.px_per_m + 20,
            (max(high, pose.head_top[1]) + 0.05) * paper_.px_per_m + 8,
        )
        assert paper_.ground == pytest.approx(wanted), up_m
