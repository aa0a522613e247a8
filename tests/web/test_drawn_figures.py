"""Figures that are drawn or tabled are where they say: the expected band and the mark by the ticks beside them, forces by the curve."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.fork import bench
from topout.documents import plan_pictures
from topout.planner import known
from topout.planner.known import Spring
from topout.planner.plan import plan
from topout.planner.plan_numbers import PlanNumbers
from topout.units import BENCH, PSI_PA
from topout.web.jobs.core.steps import Band
from topout.web.jobs.plan.rows import NONE
from topout.web.jobs.plan.tables import along_the_travel
from topout.web.jobs.steps.pictures import RoundDrawn, band_rule, section, staircase

UNITS = {"psi": ("pressure", PSI_PA), "mm": ("length", 1e-3)}
TEXT = "{http://www.w3.org/2000/svg}text"


def parts(svg: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter())


def of_class(svg: str, name: str) -> list[ElementTree.Element]:
    return [each for each in parts(svg) if name in (each.get("class") or "").split()]


def scale_of(svg: str) -> Callable[[float], float]:
    """What stands at an x of the rule, by its first and last figure and the long ticks, whatever drew the rest."""
    long_ = sorted(
        float(each.get("x1") or 0) for each in of_class(svg, "ax") if abs(float(each.get("y2") or 0) - 66) < 0.01
    )
    said = [float((each.text or "").replace("\u2212", "-").replace("\u202f", "")) for each in of_class(svg, "sm2")]
    at = [float(each.get("x") or 0) for each in of_class(svg, "sm2")]
    assert len(long_) >= 4 and len(said) >= 3
    for x in at:
        assert min(abs(x - tick) for tick in long_) < 0.06, "a figure stands at a tick"
    return lambda x: said[0] + (said[-1] - said[0]) * (x - at[0]) / (at[-1] - at[0])


@pytest.mark.parametrize("wide", [True, False])
@pytest.mark.parametrize(
    ("low", "high", "unit", "read"),
    [(70.0, 76.0, "psi", 73.5), (158.5, 161.5, "mm", 159.0), (7.0, 7.4, "mm", 7.3), (0.0, 12.0, "psi", 14.0)],
)
def test_band_and_mark_stand_where_the_ticks_say(low: float, high: float, unit: str, read: float, wide: bool) -> None:
    dimension, si = UNITS[unit]
    svg = band_rule(Band(None, low * si, high * si), dimension, unit, read * si, "rule", wide=wide)
    assert svg is not None
    value = scale_of(svg)
    near = (value(100) - value(0)) / 100 * 0.2  # a fifth of a pixel
    band = of_class(svg, "band")[0]
    left, width = float(band.get("x") or 0), float(band.get("width") or 0)
    assert value(left) == pytest.approx(low, abs=near) and value(left + width) == pytest.approx(high, abs=near)
    mark = re.match(r"M([\d.]+) 54", of_class(svg, "gotmark")[0].get("d") or "")
    assert mark is not None and value(float(mark.group(1))) == pytest.approx(read, abs=near)


@pytest.mark.parametrize(("read", "end"), [(500.0, "right"), (1.0, "left")])
def test_a_reading_far_off_points_out_of_the_rule_on_its_own_side(read: float, end: str) -> None:
    svg = band_rule(Band(None, 70 * PSI_PA, 76 * PSI_PA), "pressure", "psi", read * PSI_PA, "rule", wide=True)
    assert svg is not None and f"{read:g}, far off" in svg
    mark = re.match(r"M([\d.]+) 41", of_class(svg, "gotmark")[0].get("d") or "")
    assert mark is not None and (float(mark.group(1)) > 600) == (end == "right")


def test_the_staircase_puts_band_and_reading_on_one_scale() -> None:
    rounds = [RoundDrawn(40.0, 30.0, 28.0, 32.0, 31.0), RoundDrawn(80.0, 66.0, 64.0, 70.0, None)]
    svg = staircase(rounds, 100.0, "set", wide=True, name="fill")
    zero = float(of_class(svg, "ax")[0].get("y1") or 0)
    top = float(of_class(svg, "hair")[0].get("y1") or 0)
    dot = float(of_class(svg, "mread")[0].get("cy") or 0)
    assert len(of_class(svg, "mread")) == 1
    assert (zero - dot) / (zero - top) == pytest.approx(0.31, abs=2e-3)
    for band, each in zip(of_class(svg, "band"), rounds, strict=True):
        upper, height = float(band.get("y") or 0), float(band.get("height") or 0)
        assert (zero - upper) / (zero - top) == pytest.approx(each.high_pa / 100, abs=2e-3)
        assert (zero - upper - height) / (zero - top) == pytest.approx(each.low_pa / 100, abs=0.02)


@pytest.mark.parametrize("wide", [True, False])
def test_the_air_spring_cut_open_is_one_scale_about_one_middle(wide: bool) -> None:
    """Bore, shaft and negative chamber in the sizes of the bench file; what fills the bore lies about the shaft's middle."""
    spring = known.spring(bench())
    assert isinstance(spring, Spring)
    numbers = PlanNumbers(before=spring.chambers, spacers_before=2)
    svg = section(numbers, 0.0, charged=True, main="empty", wide=wide)
    boxes = {
        name: [
            tuple(float(each.get(key) or 0) for key in ("x", "y", "width", "height")) for each in of_class(svg, name)
        ]
        for name in ("gas", "part", "cut")
    }
    (gas,) = boxes["gas"]
    *spacers, rod = boxes["part"]
    middle = gas[1] + gas[3] / 2
    assert rod[3] / gas[3] == pytest.approx(10 / 34, rel=1e-2) and rod[1] + rod[3] / 2 == pytest.approx(middle, abs=0.2)
    annulus_mm2 = math.pi / 4 * (34**2 - 10**2)
    assert gas[2] / gas[3] == pytest.approx(50e3 / annulus_mm2 / 34, rel=1e-2)
    assert len(spacers) == 2 and len({each[3] for each in spacers}) == 1
    for each in spacers:
        assert each[1] + each[3] / 2 == pytest.approx(middle, abs=0.2) and gas[1] < each[1] and each[3] < gas[3]
    assert section(PlanNumbers(), 0.0, charged=False, main="", wide=wide) == ""


@pytest.mark.parametrize(("travel", "new", "stops"), [("150", "140", 9), ("140", "160", 9), ("130", "130", 8)])
def test_forces_along_the_travel_stand_at_both_ends_and_are_the_curves(travel: str, new: str, stops: int) -> None:
    file = bench(fork=f'travel = "{travel} mm"\ntyre_room = "530 mm"', change=f'travel = "{new} mm"')
    of = plan(file, curves=True)
    sides = plan_pictures.of_plan(file, of).sides
    rows = along_the_travel(sides, BENCH)
    names = [float(row.name) for row in rows]
    longest = max(float(travel), float(new))
    assert len(rows) == stops and names == sorted({*range(0, int(longest), 20), float(travel), float(new)})
    for mm, row in zip(names, rows, strict=True):
        for n, (curve, end) in enumerate(((of.curve_before, float(travel)), (of.curve_after, float(new)))):
            slow, fast = row.cells[2 * n : 2 * n + 2]
            assert (slow == NONE) == (mm > end), (mm, end)
            assert curve is not None and curve.force_fast_from_sag_n is not None
            if mm <= end:
                said = float(slow.whole.replace("\u202f", "").replace("\u2212", "-"))
                force_n = float(np.interp(mm * 1e-3, curve.travel_m, curve.force_n))
                assert said == pytest.approx(force_n, abs=5.1), "said to ten newtons"
            sag = sides[n].sag
            assert sag is not None and (fast == NONE) == (mm > end or mm < sag.travel_m * 1e3)
    assert along_the_travel((), BENCH) == []
