"""The demo's hands: readings with the scatter of a real gauge, and a job worked through its steps by the same functions."""

from __future__ import annotations

import random
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from PIL import Image, ImageDraw

from topout import units
from topout.errors import TopoutError
from topout.web.access.change import change
from topout.web.demo import hours
from topout.web.jobs.readings.draw import redraw
from topout.web.jobs.readings.forms import hose_correction
from topout.web.jobs.readings.photos import Drawn
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import KINDS
from topout.web.jobs.records.models import Instrument, Job, Reading, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps import sign as steps
from topout.web.jobs.steps.progress import Progress, Slot, walk

PLAUSIBLE_SI = {  # what the steps ask for and neither plan nor sheet nor card can know
    "oil-out": 22e-6, "oil-left": 15e-6, "oil-right": 10e-6, "rebound-clicks": 8.0, "compression-clicks": 5.0,
    "rebound-range": 12.0, "compression-range": 10.0, "left-rebound": 8.0, "left-compression": 5.0,
    "found-axle-to-crown": 0.554, "can-diameter": 0.052, "can-length": 0.084, "eye-to-eye": 0.2100,
    "hardware-width": 0.0222, "can-oil": 4e-6, "frame-gap": 0.009,
}  # fmt: skip

OVER_TRAVEL_M = 0.006  # exposed stanchion beyond the travel, of the demo's forks
SHAFT_LESS_TRAVEL_M = 0.112  # of both families of the demo: 252 mm give 140


class Stuck(TopoutError):
    """The demo's hands came to a step a second time: names the job, the step, and what was signed at it."""

    def __init__(self, job: Job, slot: Slot, entry: StepEntry | None) -> None:
        self.key = slot.key
        signed = "nothing stands there" if entry is None else f"it {entry.verdict} with {entry.evidence.get('answers')}"
        super().__init__(
            f"Job {job.number}, step {slot.words} ({slot.step.key}) comes again after the demo's hands signed it: {signed}."
        )


class Hands:
    """One person with a clock and a gauge. `at` moves on with everything that is done."""

    def __init__(self, who: User, at: datetime, seed: int) -> None:
        self.who, self.at = who, at
        self.scatter = random.Random(seed)

    def change(self, what: str, minutes: float = 4) -> Any:
        """A change that took so many minutes."""
        self.at = hours.later(self.at, minutes)
        return change(self.who, what, {"demo": what}, at=self.at)

    def shown(self, true_si: float, instrument: Instrument, unit: str) -> str:
        """What the instrument shows for a true value: its class as the 95 % of a normal scatter, rounded to its mark."""
        dimension = instrument.dimension
        span = units.parse(instrument.span, dimension).value_si
        mark = units.from_si(units.parse(instrument.mark, dimension).value_si, unit, dimension)
        sigma = (instrument.accuracy_class_percent or 0.0) / 100 * span / 2
        value = units.from_si(true_si + self.scatter.gauss(0, sigma), unit, dimension)
        return f"{round(value / mark) * mark:.6g} {unit}"

    def read(self, job: Job, stage: str, minutes: float = 4, **texts: Any) -> dict[str, Reading]:
        """Write readings down: kind (with _ for -) to text, or to (text, more) where more is needed."""
        taken: dict[str, Reading] = {}
        with self.change(f"readings {stage}", minutes) as doing:
            for name, given in texts.items():
                kind = KINDS[name.replace("_", "-")]
                text, more = given if isinstance(given, tuple) else (given, {})
                taken[kind.key] = readings.take(doing, job, stage, self.one(job, kind.key, text, more))
        return taken

    def one(self, job: Job, key: str, text: str, more: dict[str, Any]) -> Taken:
        """A reading as the form would make it."""
        kind = KINDS[key]
        if not kind.dimension:
            return Taken.count(key, int(text), **more)
        typed = units.parse(text, kind.dimension, kind.unit)
        if kind.pressure:
            more = {**more, **hose_correction(job, typed, more["instrument"])}
        return Taken.quantity(key, typed, kind.dimension, **more)

    def begin(self, job: Job) -> None:
        with self.change("go on", 2) as doing:
            steps.go_on(doing, job)

    def stop(self, job: Job) -> None:
        with self.change("stop", 1) as doing:
            steps.stop(doing, job)

    def work(self, job: Job, until: str | None = None) -> Slot | None:
        """Sign step after step as somebody for whom all goes well, up to a step, or to the end.

        Raises Stuck where a step comes next that these hands signed already: what they answered did not pass it, or
        something they did later opened it again. They would sign it for ever.
        """
        here = walk(job)
        signed: set[tuple[str, int]] = set()
        while (slot := here.current) is not None and slot.step.key != until:
            if slot.key in signed:
                raise Stuck(job, slot, here.latest.get(slot.key))
            self.sign(job, here, slot, self.passing(here, slot))
            signed.add(slot.key)
            here = walk(job)
        return slot

    def sign(self, job: Job, here: Progress, slot: Slot, answers: dict[str, steps.Answer]) -> None:
        self.at = hours.later(self.at, self.scatter.uniform(0.5, 1.8))
        ready = here.ready_at(slot)
        self.at = hours.opened(max(self.at, ready)) if ready else self.at
        with change(self.who, "sign", {"demo": slot.step.key, "round": slot.round}, at=self.at) as doing:
            # The whole demo is loaded in one transaction: nothing came in between since `here` was read.
            steps.sign(doing, job, slot.step.key, answers, here.seen, round_=slot.round, here=here)

    def passing(self, here: Progress, slot: Slot) -> dict[str, steps.Answer]:
        """Answers that pass: ticks, the first answer that is right, numbers near what is expected."""
        typed: dict[str, float | None] = {}
        found: dict[str, steps.Answer] = {}
        for each in slot.step.evidence:
            if each.kind == "tick":
                found[each.key] = steps.Answer(tick=True)
            elif each.kind == "choice":
                found[each.key] = steps.Answer(choice=each.passes[0])
            elif each.kind == "photo":
                found[each.key] = steps.Answer(photo=picture(slot.step.key, self.scatter))
            else:
                answer = self._number(here, slot, each, typed)
                typed[each.key] = answer.value_si
                found[each.key] = answer
        return found

    def _number(self, here: Progress, slot: Slot, each: Any, typed: dict[str, float | None]) -> steps.Answer:
        span = here.band(slot, each, here.found(slot, typed))
        card = readings.current(here.job, each.card[0]).get(each.card[1]) if each.card else None
        # What the plan or the family's sheet says comes before what is merely likely: that would not pass.
        likely = span.expect_si if span.expect_si is not None else PLAUSIBLE_SI.get(each.key)
        value = card.value_si if card is not None else likely
        if each.key == "new-shaft-length" and here.plan.new_travel_m is not None:
            value = SHAFT_LESS_TRAVEL_M + here.plan.new_travel_m  # longer for more travel, like the old one on its tag
        came = self._as_it_came(here, each)
        if came is not None:
            value = came
        if each.key == "crown-gap" and here.plan.tyre_to_crown_m is not None:
            value = max(here.plan.tyre_to_crown_m, (span.low_si or 0.0) + 1e-3)  # all goes well: it has its room
        if value is None and each.dimension == "count":
            value = span.low_si  # ten strokes are ten
        if value is None:
            assert span.low_si is not None and span.high_si is not None, each.key
            value = (span.low_si + span.high_si) / 2
        if each.dimension in ("", "count"):
            value = float(round(value))
            return steps.Answer(text=f"{value:g}", value_si=value, from_card=card is not None)
        step = {"psi": 1.0, "mm": 1.0 if value > 0.03 else 0.1, "degC": 0.5, "ml": 1.0}.get(each.unit, 0.1)
        number = round(units.from_si(value, each.unit, each.dimension) / step) * step
        rounded = units.to_si(number, each.unit, each.dimension)
        value = rounded if span.holds(rounded) else value
        text = f"{units.from_si(value, each.unit, each.dimension):.6g} {each.unit}"
        if each.card == ("as-left", "pressure") and here.instrument is not None:
            shown = self.shown(value, here.instrument, each.unit)
            text = shown if span.holds(units.parse(shown, each.dimension).value_si) else text
        value = units.parse(text, each.dimension).value_si
        return steps.Answer(text=text, value_si=value, unit=each.unit, from_card=card is not None)

    def _as_it_came(self, here: Progress, each: Any) -> float | None:
        """What was found says of a number: all clicks that a knob has, and where nothing is planned, what it had when it came."""
        found = readings.current(here.job, "as-found")
        for role in each.roles:
            of = found.get(role.removesuffix("-range"))
            if role.endswith("-range") and of is not None and of.of_range is not None:
                return float(of.of_range)
        if here.frozen is None and each.card is not None and each.card[0] == "as-left" and each.dimension == "count":
            return found[each.card[1]].value_si if each.card[1] in found else None
        if (
            each.key == "exposed-length"
            and each.card is not None
            and each.card[1] not in found
            and here.plan.new_travel_m
        ):
            return here.plan.new_travel_m + OVER_TRAVEL_M
        return None


def picture(words: str, scatter: random.Random) -> Drawn:
    """A drawing in place of a photo: an unlike one each time, so that every photo has its own SHA-256."""
    import io

    image = Image.new("RGB", (960, 720), (203, 196, 182))
    draw = ImageDraw.Draw(image)
    for _ in range(6):
        x, y = scatter.randrange(120, 800), scatter.randrange(120, 560)
        draw.line((x, y, x + scatter.randrange(-90, 90), y + scatter.randrange(-60, 60)), fill=(96, 88, 76), width=3)
    draw.ellipse((300, 180, 660, 540), outline=(60, 54, 46), width=14)
    draw.arc((330, 210, 630, 510), 20, 330, fill=(120, 112, 98), width=10)
    draw.text((24, 680), words, fill=(60, 54, 46))
    out = io.BytesIO()
    image.save(out, "PNG")
    return Drawn(*redraw(out.getvalue()))
