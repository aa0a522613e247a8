"""The pressure rule: each keep stands at its pressure, names keep clear of each other and of the line of what is set."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from topout.documents import rules
from topout.units import BAR_PA, BENCH, PSI_PA, System

NS = "{http://www.w3.org/2000/svg}"
MOCKUP: dict[str, float | None] = {
    "sag": 73.1,
    "sag-share": 68.0,
    "end-force": 64.6,
    "curve": 75.3,
}  # psi, mockups/plan.html


def rule(psi: dict[str, float | None], set_psi: float, width: int = 738, system: System = BENCH) -> str:
    keeps = {name: None if value is None else value * PSI_PA for name, value in psi.items()}
    return rules.pressure_rule(keeps, set_psi * PSI_PA, width, system=system).svg()


def scale(svg: str, unit: str) -> tuple[float, float]:
    """Slope and start of the labels of one side: pixels = start + slope · value."""
    places = []
    for text in ET.fromstring(svg).iter(NS + "text"):
        if "sm2" in text.get("class", ""):
            number, _, word = (text.text or "").partition("\u00a0")
            places.append((float(text.get("y", "0")), float(number), float(text.get("x", "0")), word))
    side = next(y for y, _, _, word in places if word == unit)
    points = [(value, x) for y, value, x, _ in places if y == side][1:-1]  # the outermost are pushed inside
    (a, x1), (b, x2) = points[0], points[-1]
    return (x2 - x1) / (b - a), x1 - a * (x2 - x1) / (b - a)


@pytest.mark.parametrize("unit", ["psi", "bar"])
@pytest.mark.parametrize("bar", [False, True])
def test_marks_stand_at_their_pressures_on_both_scales(unit: str, bar: bool) -> None:
    svg = rule(MOCKUP, 70, system=System(bar=bar))
    first = re.findall(r"\d\u00a0(psi|bar)</text>", svg)
    assert first == (["bar", "psi"] if bar else ["psi", "bar"]), "the workshop's own scale stands above"
    assert ("set 4.83" if bar else "set 70") in svg
    slope, start = scale(svg, unit)
    factor = 1.0 if unit == "psi" else PSI_PA / BAR_PA
    found = {m.group(1): float(m.group(2)) for m in re.finditer(r'data-part="keep-([a-z-]+)" d="M(-?[\d.]+) ', svg)}
    for name, psi in MOCKUP.items():
        assert found[name] == pytest.approx(start + slope * psi * factor, abs=1.5), name
    set_x = float(re.search(r'data-part="set" x1="([\d.]+)"', svg).group(1))  # type: ignore[union-attr]
    assert set_x == pytest.approx(start + slope * 70 * factor, abs=1.5)


@pytest.mark.parametrize("bar", [False, True])
@pytest.mark.parametrize("width", [288, 358])
def test_on_a_phone_the_rule_stands_upright_and_every_name_is_inside(width: int, bar: bool) -> None:
    """It lay: names ran through the line of what is set, and of the bar scale one label was left."""
    svg = rule(MOCKUP, 70, width, System(bar=bar))
    texts = [one for one in ET.fromstring(svg).iter(NS + "text") if "sm2" in one.get("class", "")]
    assert texts[0].text == ("bar" if bar else "psi") and len(texts) >= 4
    labels = [(float(one.text or "nan"), float(one.get("y", "nan"))) for one in texts[1:]]
    (a, y1), (b, y2) = labels[0], labels[-1]
    slope = (y2 - y1) / (b - a)
    assert slope * (b - a) < 0 < min(y1, y2), "pressures grow upwards, on the picture"
    for name, psi in MOCKUP.items():
        assert psi is not None
        place = float(re.search(rf'data-part="keep-{name}" d="M[\d.]+ ([\d.]+)', svg).group(1))  # type: ignore[union-attr]
        value = psi * (PSI_PA / BAR_PA if bar else 1.0)
        assert place + 0.36 * 18 == pytest.approx(y1 + slope * (value - a), abs=0.2), name
    from PIL import ImageFont

    face = ImageFont.truetype(str(Path(rules.__file__).parent / "fonts" / "Inter_400Regular.ttf"), 18)
    for one in ET.fromstring(svg).iter(NS + "text"):
        if one.text in rules.NAMES.values():
            assert float(one.get("x", "nan")) + face.getlength(str(one.text)) <= width


def test_figures_beside_the_ticks_have_no_more_places_than_their_step() -> None:
    """Steps of 1 and more are whole; a scale in bar is stepped finer and shows a tenth."""
    said = [
        text.text or "" for text in ET.fromstring(rule(MOCKUP, 70)).iter(NS + "text") if "sm2" in text.get("class", "")
    ]
    psi = said[: next(n for n, words in enumerate(said) if "bar" in words)]
    assert len(psi) >= 3 and all(re.fullmatch(r"\d+(\u00a0psi)?", words) for words in psi)


def test_a_keep_without_a_pressure_is_left_out_and_all_is_said() -> None:
    svg = rule({**MOCKUP, "curve": None}, 70)
    assert "keep-curve" not in svg and "keep-sag" in svg
    assert "same bottom-out force 65 psi, same sag in % 68 psi, same sag 73 psi; set is 70 psi" in svg.replace(
        "\u00a0", " "
    )


@given(
    st.lists(st.floats(20, 140), min_size=4, max_size=4), st.floats(20, 140), st.sampled_from([288, 358, 738])
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_every_name_is_inside_and_no_two_touch(values: list[float], set_psi: float, width: int) -> None:
    svg = rule(dict(zip(MOCKUP, values, strict=True)), set_psi, width)
    size = 20 if width >= 560 else 18
    boxes = []
    for text in ET.fromstring(svg).iter(NS + "text"):
        words = text.text or ""
        if words in rules.NAMES.values():
            x, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
            boxes.append((x, x + 0.55 * size * len(words), y - 0.7 * size, y))
    assert len(boxes) == 4
    for i, (left, right, top, bottom) in enumerate(boxes):
        assert left >= 0 and right <= width + 2
        for left2, right2, top2, bottom2 in boxes[i + 1 :]:
            assert right <= left2 or right2 <= left or bottom <= top2 or bottom2 <= top
