"""The small marks of the charts: which state each belongs to, where it stands, and where words may lie between the lines."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from documents.test_charts import bench, drawn, elements, force, pictures, scale
from topout.bench_file.model import BenchFile
from topout.documents import band_charts, charts
from topout.documents.chart_labels import _clear, _End, _left_of, _lowest_clear
from topout.documents.chart_marks import Marks
from topout.documents.plan_pictures import PlanPictures
from topout.documents.svg import Drawing
from topout.planner.bands import Band
from topout.planner.held_in import Leaves
from topout.uncertainty.intervals import Interval
from topout.units import PSI_PA

__all__ = ["bench", "pictures"]  # fixtures


def circles(svg: str, *radii: str) -> list[tuple[str, float, float]]:
    """Of each dot of these sizes its class and its place, in millimetres and newtons."""
    to_mm, to_n = scale(svg)
    found = [one for one in elements(svg, "circle") if one.get("r") in radii]
    return sorted((one.get("class", ""), to_mm(float(one.get("cx", "nan"))), to_n(float(one.get("cy", "nan")))) for one in found)  # fmt: skip


def test_each_sag_has_the_mark_and_the_hair_of_its_own_state(pictures: PlanPictures) -> None:
    svg = force(pictures, 738).svg()
    to_mm, _ = scale(svg)
    marks = {style: mm for style, mm, _ in circles(svg, "5", "6")}
    assert marks == {"mb": pytest.approx(31.0, abs=0.05), "ma": pytest.approx(32.471, abs=0.05)}
    hairs = {one.get("class"): to_mm(float(one.get("x1", "nan"))) for one in elements(svg, "line") if "hair" in one.get("class", "")}  # fmt: skip
    assert hairs == {"cb hair": pytest.approx(31.0, abs=0.05), "ca hair": pytest.approx(32.471, abs=0.05)}


def test_the_difference_is_said_beside_its_point_and_not_on_its_line(pictures: PlanPictures) -> None:
    """At the width of the plan page on a tablet “−100 N at 132 mm” fits no more: “−100 N” was written over the end of the line."""
    drawing = pictures.difference(738)
    assert drawing is not None
    point = next(one for one in elements(drawing.svg(), "circle") if "ma" in one.get("class", ""))
    said = next(
        one for one in elements(drawing.svg(), "text") if "100" in (one.text or "") and "ta" in one.get("class", "")
    )
    assert said.get("text-anchor") != "end" and float(said.get("x", "nan")) > float(point.get("cx", "nan"))


def test_words_may_lie_below_the_lines_and_not_on_them(pictures: PlanPictures) -> None:
    """Between 100 and 130 mm both lines are far above 300 N, wherever they came from."""
    where = charts.room(738)
    drawing = Drawing("one", where.width, 400, "one", "one", where.text_px, "")
    marks = Marks(drawing, where, 150.0, 0.0, 2600.0)
    curve = pictures.sides[-1].curve
    left, right = marks.x_px(100.0), marks.x_px(130.0)
    on_it = marks.y_px(float(np.interp(0.115, curve.travel_m, curve.force_n)))
    assert _clear(marks, pictures.sides, left, right, marks.y_px(300.0))
    assert not _clear(marks, pictures.sides, left, right, on_it)
    most_n = max(float(np.interp(0.080, side.curve.travel_m, side.fast_n)) for side in pictures.sides)  # they rise
    highest = _lowest_clear(marks, pictures.sides, marks.x_px(60.0), marks.x_px(80.0))
    assert marks.y(highest) == pytest.approx(most_n, rel=0.02)


def test_each_edge_of_a_band_ends_in_a_dot_of_its_state() -> None:
    def side(name: str, end_m: float, most_n: float) -> band_charts.BandSide:
        travel_m = np.linspace(0.0, end_m, 31)
        middle = most_n * travel_m / end_m
        return band_charts.BandSide(
            name, Band(travel_m, middle, 0.9 * middle, 1.1 * middle), Interval(most_n, 0.9 * most_n, 1.1 * most_n, 1.0)
        )

    both = (side("before", 0.140, 1800.0), side("after", 0.160, 2000.0))
    svg = band_charts.bands(both, charts.room(738), "force").svg()
    expected = [("ma", 160, 1800), ("ma", 160, 2200), ("mb", 140, 1620), ("mb", 140, 1980)]
    found = circles(svg, "4")
    assert [style for style, _, _ in found] == [style for style, _, _ in expected]
    np.testing.assert_allclose([place for _, *place in found], [place for _, *place in expected], atol=2.0)
    # The shorter one's limits are said beside its end, in the middle of a line of text.
    (said,) = [one for one in elements(svg, "text") if (one.text or "").startswith("before, ")]
    _, to_n = scale(svg)
    assert to_n(float(said.get("y", "nan")) - 0.3 * text_px(svg)) == pytest.approx(1980, abs=8.0)


@pytest.mark.parametrize("width", [738, 358])
def test_of_two_lines_that_are_the_same_it_is_said_that_nothing_parts_them(bench: BenchFile, width: int) -> None:
    drawing = drawn(bench, None).difference(width)
    assert drawing is not None
    assert [one.text for one in elements(drawing.svg(), "text")].count("none") == 1


@pytest.mark.parametrize("width", [738, 358])
def test_each_reading_has_its_line_from_limit_to_limit_and_its_dot_between(width: int) -> None:
    now = Interval(2000.0, 1600.0, 2400.0, 1.0)
    of = tuple(Leaves(psi * PSI_PA, Interval(n, n - 80.0, n + 120.0, 1.0)) for psi, n in ((90, 1800.0), (95, 2100.0)))
    svg = band_charts.readings(now, of, 0.13, "psi", charts.room(width), "leaves").svg()
    _, to_n = scale_of_forces(svg)
    lines = [one for one in elements(svg, "line") if "slow" in one.get("class", "")]
    spans = [sorted(to_n(float(one.get(end, "nan"))) for end in ("y1", "y2")) for one in lines]
    assert spans == [pytest.approx(ends, abs=8.0) for ends in ([1600, 2400], [1720, 1920], [2020, 2220])]
    dots = [one for one in elements(svg, "circle") if "ma" in one.get("class", "")]
    assert [to_n(float(one.get("cy", "nan"))) for one in dots] == [pytest.approx(n, abs=8.0) for n in (1800, 2100)]
    assert [float(one.get("cx", "nan")) for one in dots] == [float(one.get("x1", "nan")) for one in lines[1:]]


def scale_of_forces(svg: str) -> tuple[float, Callable[[float], float]]:
    """Newtons by the height in the picture, from the numbers beside the upright axis."""
    ticks = [
        (
            float(one.get("y", "nan")) - 0.36 * float(size),
            float((one.text or "").replace("\u2009", "").replace("\u202f", "")),
        )
        for one in elements(svg, "text")
        if one.get("text-anchor") == "end" and (size := text_px(svg))
    ]
    (y0, n0), (y1, n1) = ticks[0], ticks[-1]
    return y0, lambda y: n0 + (n1 - n0) * (y - y0) / (y1 - y0)


def text_px(svg: str) -> float:
    return charts.room(738).text_px if "738" in svg.partition(">")[0] else charts.room(358).text_px


def test_a_label_may_stand_beside_another_and_not_on_it(pictures: PlanPictures) -> None:
    where = charts.room(738)
    marks = Marks(Drawing("one", where.width, 400, "one", "one", where.text_px, ""), where, 150.0, 0.0, 2600.0)
    left, right, y = marks.x_px(100.0), marks.x_px(130.0), marks.y_px(300.0)
    half = 0.5 * where.text_px
    for box, free in (
        ((left, right, y - half, y + half), False),
        ((right + 9, right + 60, y - half, y + half), True),
        ((left - 60, left - 9, y - half, y + half), True),
        ((right + 7, right + 60, y - half, y + half), False),
        ((left, right, y + half + 1, y + half + 20), True),
        ((left, right, y - half - 20, y - half - 1), True),
    ):
        marks.taken[:] = [box]
        assert _clear(marks, pictures.sides, left, right, y) is free, box


@pytest.mark.parametrize(("covered", "away"), [([], 18), ([18], 26), ([18, 26], 36), ([18, 26, 36], None)])
def test_the_label_of_an_end_stands_as_near_as_is_clear(
    pictures: PlanPictures, covered: list[float], away: float | None
) -> None:
    """Each place further left is the one before, and as far again as words part; none further than 36 px, where it belongs to nothing."""
    where = charts.room(738)
    marks = Marks(Drawing("one", where.width, 400, "one", "one", where.text_px, ""), where, 150.0, 0.0, 2600.0)
    end = _End(marks.x_px(120.0), marks.y_px(300.0), "t ta", "after, slow", "300 N")
    # Words just so far right of a label there that it touches them, and a pixel further left does not.
    marks.taken[:] = [(end.x - px + 4 + 8 - 0.5, end.x, end.y - 30, end.y + 30) for px in covered]
    found = _left_of(marks, pictures.sides, end, 60.0)
    assert (found and end.x - found[0]) == away
