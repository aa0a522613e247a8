"""The windows A (bottom bracket) and B (top of the head tube): millimetres that the whole bike is too small to show."""

from __future__ import annotations

from typing import Final

from topout.documents.bike import Paper, Standing
from topout.documents.pose import Metres, Pose, between, move
from topout.documents.svg import Drawing, Point
from topout.units import BENCH, NO_BREAK, System, decimals_of, digits, plain, to_si

DETAIL_PX: Final = (356.0, 150.0)
FACTORS: Final = (20, 10, 5, 2, 1)
FACTOR_WORDS: Final = {
    20: "twenty times larger",
    10: "ten times larger",
    5: "five times larger",
    2: "twice as large",
    1: "once more",
}
NARROW_PX_PER_M: Final = 250.0  # below it the picture is a phone's, and its windows are enlarged twice as much


def frames(drawing: Drawing, before: Standing, after: Standing, on: Paper) -> None:
    """The windows' frames in the picture of the whole bike, with their letters."""
    factor = factor_of(before, after, on)
    for letter, now in windows(after).items():
        x, y = on.at(between(windows(before)[letter], now, 0.5))
        w, h = DETAIL_PX[0] / factor, DETAIL_PX[1] / factor
        drawing.rect("win", (x - w / 2, y - h / 2), w, h, f"window-{letter}")
        side = -1 if letter == "A" else 1
        drawing.text((x + side * (w / 2 + 7), y - h / 2 - 2), letter, "t let", "end" if side < 0 else "start")


def windows(state: Standing) -> dict[str, Metres]:
    """The two places that are drawn larger."""
    return {"A": state.pose.bottom_bracket, "B": state.pose.head_top}


def factor_of(before: Standing, after: Standing, on: Paper) -> int:
    """The largest of the factors at which both states stay inside both windows; 20 only for the narrow picture."""
    for factor in FACTORS if on.px_per_m < NARROW_PX_PER_M else FACTORS[1:]:
        scale = on.px_per_m * factor
        inside = []
        for letter, point in windows(after).items():
            was = windows(before)[letter]
            inside.append(
                abs(point[0] - was[0]) * scale < DETAIL_PX[0] - 150
                and abs(point[1] - was[1]) * scale < DETAIL_PX[1] - 70
            )
        if all(inside):
            return factor
    return FACTORS[-1]


def detail(
    letter: str, before: Standing, after: Standing, on: Paper, name: str, classes: str = "", system: System = BENCH
) -> Drawing:
    """Window A (bottom bracket) or B (top of the head tube), `factor_of` times as large as the picture on `on`."""
    scale = on.px_per_m * factor_of(before, after, on)
    was, now = windows(before)[letter], windows(after)[letter]
    middle = between(was, now, 0.5)
    w, h = DETAIL_PX
    near = Paper(scale, w / 2 - middle[0] * scale, h / 2 + middle[1] * scale)
    part = "bottom bracket" if letter == "A" else "top of the head tube"
    drawing = Drawing(name, w, h, f"Detail {letter}, {part}: {moved(was, now, system)}", "", 20, classes)
    drawing.open_window(w, h)
    for state, cls in ((before, "sb"), (after, "sa axis")):
        for a, b in _lines_at(letter, state.pose):
            drawing.line(cls, near.at(a), near.at(b))
    drawing.close_window()
    _moves(drawing, near.at(was), near.at(now), (now[0] - was[0], now[1] - was[1]), system)
    drawing.circle("mb", near.at(was), 6, f"{letter}-before")
    drawing.circle("ma", near.at(now), 6.5, f"{letter}-after")
    drawing.rect("win", (0.5, 0.5), w - 1, h - 1)
    drawing.text((12, 27), letter, "t let")
    unit = system.unit("length", "mm")
    many, said = (10.0, "10") if unit == "mm" else (0.5, "0.5")
    ruler = scale * to_si(many, unit, "length")
    drawing.line("ax", (12, 138), (12 + ruler, 138))
    for x in (12, 12 + ruler):
        drawing.line("ax", (x, 133), (x, 143))
    drawing.text((20 + ruler, 144), f"{said}{NO_BREAK}{unit}", "t sm2")
    return drawing


def moved(was: Metres, now: Metres, system: System = BENCH) -> str:
    """A move in words: "4.4 mm higher, 5.8 back"."""
    unit = system.unit("length", "mm")
    up, forward = (system.number(now[n] - was[n], "length", "mm") for n in (1, 0))
    parts = []
    if up:
        parts.append(f"{plain(abs(up), unit)} {'higher' if up > 0 else 'lower'}")
    if forward:
        said = plain(abs(forward), unit)
        parts.append(f"{said.partition(NO_BREAK)[0] if parts else said} {'forward' if forward > 0 else 'back'}")
    return ", ".join(parts) or "does not move"


def _lines_at(letter: str, pose: Pose) -> list[tuple[Metres, Metres]]:
    if letter == "A":
        ends = (pose.rear_axle, pose.head_top, *((pose.seat.top,) if pose.seat else ()))
        return [(pose.bottom_bracket, end) for end in ends]
    top = pose.head_top
    return [
        (move(top, pose.along, -0.2), move(top, pose.along, 0.2)),
        (move(top, pose.ahead, -0.012), move(top, pose.ahead, 0.012)),
    ]


def _moves(drawing: Drawing, was: Point, now: Point, metres: Metres, system: System) -> None:
    """How far a point moved, as two dimensions beside the points."""
    across, up = (system.number(each, "length", "mm") for each in metres)
    places = decimals_of(system.unit("length", "mm"))
    right = max(was[0], now[0])
    if up:
        x = right + 34
        for y, from_x in ((was[1], was[0] + 10), (now[1], now[0] + 10)):
            drawing.line("dim", (from_x, y), (x + 8, y))
        drawing.line("dim", (x, was[1]), (x, now[1]))
        drawing.text((x + 12, (was[1] + now[1]) / 2 + 7), digits(up, places, signed=True), "t ta")
    if abs(metres[0]) >= 0.0005:
        y = max(was[1], now[1]) + 24
        if y < DETAIL_PX[1] - 8:
            for x, from_y in ((was[0], was[1] + 9), (now[0], now[1] + 9)):
                drawing.line("dim", (x, from_y), (x, y + 6))
            drawing.line("dim", (was[0], y), (now[0], y))
            drawing.text((min(was[0], now[0]) - 8, y + 7), digits(across, places, signed=True), "t ta", "end")
