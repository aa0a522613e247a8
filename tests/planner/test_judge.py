"""The band of a number: its ends, what widens it, what closes it, and what is not known; values by hand."""

from __future__ import annotations

import math

import pytest

from topout.planner.judge import SLACK, Band, Gauge, NotKnown, band
from topout.procedures.model import Bound, Evidence, Tolerance

GAUGE = Gauge(mark_pa=1000.0, span_pa=1e6, class_percent=1.0)  # a mark of 1 kPa, a class of 10 kPa


def number(**more: object) -> Evidence:
    return Evidence("x", "number", "X", "pressure", "kPa", **more)  # type: ignore[arg-type]


def drop(expect: float, below: Tolerance | None, above: Tolerance | None, pumped: float) -> Band:
    """A reading after a stroke: pumped to so much, and so much is expected on the same gauge."""
    asked = number(expect=Bound(name="round_reading"), below=below, above=above)
    return band(asked, {"round_reading": expect, "round_pressure": pumped}, GAUGE)


@pytest.mark.parametrize(
    ("low", "high", "passes", "fails"),
    [(1.0, None, (1.0, 1e9), (0.999,)), (None, 2.0, (2.0, -1e9), (2.001,)), (1.0, 2.0, (1.0, 2.0), (0.999, 2.001))],
)
def test_an_end_belongs_to_the_band_and_one_end_is_enough_to_fail(
    low: float | None, high: float | None, passes: tuple[float, ...], fails: tuple[float, ...]
) -> None:
    span = Band(None, low, high)
    assert span.bounded and all(span.holds(value) for value in passes) and not any(span.holds(value) for value in fails)
    assert not any(span.holds(value) for value in (math.nan, math.inf, -math.inf))


def test_a_band_without_an_end_fails_nothing_that_is_a_number() -> None:
    assert not Band(3.0, None, None).bounded and Band(3.0, None, None).holds(-1e9)
    assert not Band(3.0, None, None).holds(math.nan)


@pytest.mark.parametrize(
    ("tolerance", "off"),
    [
        (Tolerance("quantity", 500.0), 500.0),
        (Tolerance("share", 0.02), 2000.0),
        (Tolerance("gauge", 2.0), 2 * 1000.0 + 0.01 * 1e6),
        (Tolerance("drop", 2.0), 2 * 1000.0),
    ],
)
def test_how_far_a_reading_may_be_off(tolerance: Tolerance, off: float) -> None:
    for below, above in ((tolerance, tolerance), (tolerance, None), (None, tolerance)):
        span = band(number(expect=Bound(1e5), below=below, above=above), {}, GAUGE)
        assert span.expect_si == 1e5
        assert span.low_si == (None if below is None else pytest.approx(1e5 - off))
        assert span.high_si == (None if above is None else pytest.approx(1e5 + off))


def test_the_narrower_end_counts() -> None:
    both = number(expect=Bound(1e5), below=Tolerance("quantity", 9e3), above=Tolerance("quantity", 9e3))
    for low, high, wanted in ((95e3, 104e3, (95e3, 104e3)), (80e3, 120e3, (91e3, 109e3))):
        span = band(Evidence(**{**_fields(both), "low": Bound(low), "high": Bound(high)}), {}, GAUGE)  # type: ignore[arg-type]
        assert (span.low_si, span.high_si) == pytest.approx(wanted)


def _fields(of: Evidence) -> dict[str, object]:
    return {name: getattr(of, name) for name in Evidence.__dataclass_fields__}


def test_a_drop_on_one_gauge_is_judged_by_its_marks_and_never_by_its_class() -> None:
    two = Tolerance("gauge", 2.0)
    span = drop(90e3, two, two, pumped=100e3)  # half the drop is 5 kPa: the marks are narrower
    assert (span.low_si, span.high_si) == pytest.approx((88e3, 92e3))
    span = drop(97e3, two, two, pumped=100e3)  # half the drop is 1.5 kPa: narrower than two marks
    assert (span.low_si, span.high_si) == pytest.approx((95e3, 98.5e3))
    span = drop(99.5e3, two, two, pumped=100e3)  # less than a mark: no gauge shows it
    assert (span.low_si, span.high_si) == pytest.approx((97.5e3, 101.5e3))
    span = drop(99e3, two, two, pumped=100e3)  # a mark, exactly, is shown
    assert (span.low_si, span.high_si) == pytest.approx((97e3, 99.5e3))


def test_each_end_of_a_drop_keeps_its_own_kind_of_tolerance() -> None:
    two, wide = Tolerance("gauge", 2.0), Tolerance("quantity", 3e3)
    assert drop(90e3, wide, two, 100e3).low_si == pytest.approx(87e3)
    assert drop(90e3, wide, two, 100e3).high_si == pytest.approx(92e3)
    assert drop(90e3, two, wide, 100e3).low_si == pytest.approx(88e3)
    assert drop(90e3, two, wide, 100e3).high_si == pytest.approx(93e3)
    assert drop(90e3, two, None, 100e3).high_si == pytest.approx(95e3), "a drop is a drop where nothing else bounds it"


def test_the_rule_for_a_drop_is_for_a_drop_alone() -> None:
    two = Tolerance("gauge", 2.0)
    plain = band(number(expect=Bound(9e4), below=two, above=two), {"round_pressure": 1e5}, GAUGE)
    other = band(number(expect=Bound(name="set"), below=two, above=two), {"set": 9e4, "round_pressure": 1e5}, GAUGE)
    alone = band(number(expect=Bound(name="round_reading"), below=two, above=two), {"round_reading": 9e4}, GAUGE)
    for span in (plain, other, alone):
        assert (span.low_si, span.high_si) == pytest.approx((9e4 - 12e3, 9e4 + 12e3))


def test_what_is_not_known_is_named() -> None:
    two = Tolerance("gauge", 2.0)
    with pytest.raises(NotKnown, match="set pressure is not known yet"):
        band(number(expect=Bound(name="set_pressure"), below=two, above=two), {"set_pressure": None}, GAUGE)
    with pytest.raises(NotKnown, match="the gauge is not known yet"):
        band(number(expect=Bound(1e5), below=two, above=two), {}, None)


def test_as_fine_means_neither_wider_marks_nor_a_wider_class() -> None:
    assert GAUGE.as_fine_as(GAUGE)
    assert Gauge(500.0, 1e6, 1.0).as_fine_as(GAUGE) and not GAUGE.as_fine_as(Gauge(500.0, 1e6, 1.0))
    assert Gauge(1000.0, 5e5, 1.0).as_fine_as(GAUGE) and not GAUGE.as_fine_as(Gauge(1000.0, 5e5, 1.0))
    assert not Gauge(500.0, 1e6, 2.0).as_fine_as(GAUGE) and not Gauge(2000.0, 1e6, 0.1).as_fine_as(GAUGE)
    assert not Gauge(1000.0, 1e6, 1.05).as_fine_as(GAUGE), "a class that is wider by less than a mark is wider"


def test_a_gauge_that_is_off_by_just_a_third_of_a_pressure_still_tells_it() -> None:
    third = Gauge(1.0, 0.0, 0.0)  # off by its mark alone
    assert third.tells(3.0, 1.0) and not third.tells(2.999, 1.0)


def test_the_slack_of_a_band_belongs_to_it_to_its_last_bit() -> None:
    hair = SLACK * 1e-3  # the least slack that there is
    nothing = Band(0.0, 0.0, 0.0)
    assert nothing.holds(hair) and nothing.holds(-hair)
    assert not nothing.holds(1.001 * hair) and not nothing.holds(-1.001 * hair)
