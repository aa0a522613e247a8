"""The demo's seventeen jobs, oldest first, so that the last of the full ones is number 214."""

from __future__ import annotations

from collections.abc import Callable

from topout.units import PSI_PA
from topout.web.book import keeping as book
from topout.web.book.tables import Tables
from topout.web.demo import book as demo_book
from topout.web.demo.hands import Hands
from topout.web.demo.load import BOTH_JOB, BY_SHAFT, PLAN_JOB, Demo, hollin, lay_on_shelf, tag_old_shaft
from topout.web.jobs import core
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job
from topout.web.jobs.steps.progress import walk
from topout.web.jobs.steps.sign import Answer
from topout.web.shelf import keeping as shelf


def _service(demo: Demo, hands: Hands, which: int, promised_days: int, **more: object) -> Job:
    """A service: taken in, by a procedure where `more` names one, and written down as found."""
    rider, bike, unit, title, asked = demo_book.SERVICES[which]
    kind = "shock" if "shock" in unit else "fork"
    family = {"Linnet fork": "linnet", "Ashlar fork": "ashlar"}.get(unit, "")
    on = demo.riders[rider].bikes.filter(name=bike).first()
    if on is not None:
        fitted = (demo.riders[rider], on, on.units.get(name=unit))
    else:
        fitted = demo.fitted(
            hands, rider, bike, unit, demo_book.TARRAGON if family == "linnet" else {}, {}, family, kind
        )
    promised = demo.when(promised_days, "16:30")
    job = demo.take_in(hands, title, asked, fitted, promised_at=promised, **more)
    demo.found(hands, job, 74.0 if kind == "fork" else 182.0, "P1", rebound=("6", {"of_range": 12}))
    return job


def _left(demo: Demo, hands: Hands, job: Job, pressure_psi: float) -> None:
    """As left, read with the gauge that read it as found."""
    gauge = demo.gauges["P1"]
    shown = hands.shown(pressure_psi * PSI_PA, gauge, "psi")
    hands.read(
        job, "as-left", 50, temperature=("19 degC", {"instrument": demo.gauges["T1"]}),
        pressure=(shown, {"instrument": gauge, "temperature_k": 292.15}), rebound=("6", {"of_range": 12}),
    )  # fmt: skip


BY_STEPS = {0: "lower-leg-service", 3: "rear-shock-air-can"}  # which of the five are worked by a procedure's steps


def services(demo: Demo) -> None:
    """201 to 205: five services, handed over; two by their procedures' steps, and the third is the one that comes back."""
    for which, days in enumerate((41, 38, 33, 29, 24)):
        who = demo.maud if which % 2 == 0 else demo.jory
        hands = demo.hands(who, demo.when(days, "08:40"))
        job = _service(demo, hands, which, days - 1, procedure=BY_STEPS.get(which, ""))
        if job.procedure:
            hands.begin(job)
            hands.work(job)
        else:
            _left(demo, hands, job, 76.0 if "fork" in str(job.unit) else 185.0)
        defects = ("Rear tyre worn to the threads; the rider knows.",) if which == 4 else ()
        demo.over(
            hands, job, f"{job.asked_title.capitalize()}, seals and oil new.", "after 50 hours of riding", *defects
        )


def _posted(demo: Demo, hands: Hands) -> Job:
    """A fork that came in a box, without its bike: its lower-leg service, up to where they go on again."""
    with hands.change("post", 6) as doing:
        fork = book.make_unit(doing, bike=None, name="Ashlar fork", tables={}, family=demo.families["ashlar"])
        shelf.make_tag(doing, unit=fork)
        job = changes.take_in(
            doing, rider=demo.riders["tarnow"], bike=None, unit=fork, technician=hands.who,
            asked_title="lower legs and foam rings", asked="By post, with its axle. The bike stays at home.",
            promised_at=demo.when(-3, "16:30"), procedure="lower-leg-service",
        )  # fmt: skip
    demo.found(hands, job, 68.0, "P1", rebound=("6", {"of_range": 12}))
    hands.begin(job)
    hands.work(job, until="legs-on")
    hands.stop(job)
    return job


def _longer(demo: Demo, hands: Hands, rider: str, bike: str, promised_days: int, change: Tables) -> Job:
    """A travel change by air shaft on a bike like the Tarragon, up to the frozen plan."""
    on = demo.fitted(hands, rider, bike, "Linnet fork", demo_book.TARRAGON, {}, family="linnet")
    travel = change["change"]["travel"].removesuffix(" mm")
    job = demo.take_in(
        hands, f"travel 160 → {travel} mm", "Use it where it is steep; it should not dive.", on,
        promised_at=demo.when(promised_days, "17:00"), procedure=BY_SHAFT,
    )  # fmt: skip
    tape = demo.gauges["M1"]
    demo.found(
        hands, job, 78.0, "P1", spacers="1", exposed_length=("166 mm", {"instrument": tape}),
        rebound=("8", {"of_range": 16}), sag=("37 mm", {"instrument": tape, "posture": "standing"}),
    )  # fmt: skip
    with hands.change("plan", 15) as doing:
        core.freeze(doing, job, change)
    return job


def whole(demo: Demo) -> None:
    """206: a travel change from intake to hand-over, by both technicians; 207: one that waits for a part."""
    hands = demo.hands(demo.jory, demo.when(20, "08:15"))
    change: Tables = {"change": {"travel": "170 mm", "spacers": 1, "pressure": "74 psi"}}
    job = _longer(demo, hands, "vauquelle", "Tarragon trail, size M", 19, change)
    hands.begin(job)
    hands.work(job, until="turn-over")
    hands.stop(job)
    hands.who, hands.at = demo.maud, demo.when(19, "08:20")
    hands.begin(job)
    hands.work(job)
    tag_old_shaft(demo, hands, job, "160", length="272 mm", diameter="10 mm", gives="160 mm")
    demo.over(
        hands, job, "Air shaft for 170 mm put in; set up with the rider.", "lower legs after 50 hours of riding",
        notes="Look at the sag O-ring after the second ride. Come by if it sits higher than today.",
    )  # fmt: skip

    hands = demo.hands(demo.maud, demo.when(16, "10:05"))
    waits = _service(demo, hands, 4, -1)
    with hands.change("waits", 30) as doing:
        changes.remark(doing, waits, "waits", "two bushings, 35 mm")


def come_back(demo: Demo) -> None:
    """208: the shock of the third job is back for the same reason."""
    hands = demo.hands(demo.jory, demo.when(12, "09:00"))
    first = Job.objects.get(number=PLAN_JOB - 11)
    assert first.bike is not None and first.unit is not None
    job = demo.take_in(
        hands, "loses air again", "It was down to half after eight days.", (first.rider, first.bike, first.unit),
        comes_back_from=first, promised_at=demo.when(10, "16:30"),
    )  # fmt: skip
    demo.found(hands, job, 96.0, "P1")
    with hands.change("condition", 5) as doing:
        changes.remark(
            doing, job, "condition", "Main seal nicked at the parting line. At 185 psi: 4 psi lost in 30 minutes."
        )
    _left(demo, hands, job, 185.0)
    demo.over(
        hands,
        job,
        "Main seal new, bore polished, held 185 psi for 30 minutes before and after 50 cycles.",
        "after 40 hours",
    )


def charged(demo: Demo) -> None:
    """209: a fork that draws itself in when it is let out; every later step is closed."""
    hands = demo.hands(demo.maud, demo.when(4, "13:10"))
    change: Tables = {"change": {"travel": "150 mm", "spacers": 2, "pressure": "84 psi"}}
    job = _longer(demo, hands, "tarnow", "Tarragon trail, size XL", -2, change)
    hands.begin(job)
    slot = hands.work(job, until="empty-at-rest")
    assert slot is not None
    here = walk(job)
    answers = hands.passing(here, slot)
    answers["rest"] = Answer(choice="Sucks itself in")
    answers["rest-length"] = Answer(text="121 mm", value_si=0.121, unit="mm")
    hands.sign(job, here, slot, answers)


def small(demo: Demo) -> None:
    """210 to 213: ready to hand over, waiting for a tool, waiting for a yes, holding pressure."""
    hands = demo.hands(demo.jory, demo.when(3, "09:20"))
    done = _service(demo, hands, 0, 0)
    _left(demo, hands, done, 77.0)

    hands = demo.hands(demo.jory, demo.when(2, "11:00"))
    tool = _posted(demo, hands)
    with hands.change("waits", 20) as doing:
        changes.remark(doing, tool, "waits", f"the 35 mm seal driver, with job {PLAN_JOB}")

    hands = demo.hands(demo.maud, demo.when(2, "14:30"))
    answer = _service(demo, hands, 3, -2)
    with hands.change("waits", 25) as doing:
        changes.remark(doing, answer, "waits", "her yes to the estimate. Reach her after 17:00")

    hands = demo.hands(demo.jory, demo.before(340))
    _service(demo, hands, 2, 0)


def on_the_stand(demo: Demo) -> None:
    """214: the bike of the mockups, broken off in the middle of its steps."""
    hands = demo.hands(demo.maud, demo.before(300))
    job = hollin(demo, hands)
    assert job.number == PLAN_JOB, job.number
    hands.begin(job)
    hands.scatter.seed(PLAN_JOB)
    hands.work(job, until="ring-seated")
    tag_old_shaft(demo, hands, job, "140", length="252 mm", diameter="10 mm", gives="140 mm")
    lay_on_shelf(demo, hands)


def new(demo: Demo) -> None:
    """215: a plan to work out; 216: a fork by post that nobody has unpacked."""
    hands = demo.hands(demo.jory, demo.before(100))
    on = demo.fitted(hands, "oden", "Tarragon trail, size L", "Linnet fork", demo_book.TARRAGON, {}, family="linnet")
    job = demo.take_in(
        hands,
        "travel 160 → 150 mm",
        "Too tall on the climbs.",
        on,
        promised_at=demo.when(-4, "12:00"),
        procedure=BY_SHAFT,
    )
    tape = demo.gauges["M1"]
    demo.found(hands, job, 71.0, "P2", spacers="1", sag=("41 mm", {"instrument": tape, "posture": "standing"}))
    with hands.change("post", 10) as doing:
        box = book.make_unit(doing, bike=None, name="a fork, not looked at yet", tables={})
        changes.take_in(
            doing, rider=demo.riders["santerre"], bike=None, unit=box, technician=demo.jory,
            asked_title="a fork by post, no note in the box", asked="Nothing was written. Call him.",
            promised_at=demo.when(-1, "12:00"),
        )  # fmt: skip


def both_ends(demo: Demo) -> None:
    """217: a full-suspension bike whose shock bottoms; the plan in use sets the fork a little too."""
    hands = demo.hands(demo.maud, demo.before(75))
    rider, bike, shock = demo.fitted(
        hands,
        "tallis",
        "Fellside trail, size M",
        "Teasel rear shock",
        demo_book.FELLSIDE,
        demo_book.TEASEL,
        kind="shock",
    )
    with hands.change("book", 4) as doing:
        book.make_unit(doing, bike=bike, name="Bracken fork", tables=demo_book.BRACKEN)
    job = demo.take_in(
        hands, "firmer at the end behind", "It bottoms on every drop. It should sit as it does now.", (rider, bike, shock),
        promised_at=demo.ahead(240), procedure="rear-shock-air-can",
    )  # fmt: skip
    assert job.number == BOTH_JOB, job.number
    sag = ("14.5 mm", {"instrument": demo.gauges["M1"], "posture": "seated"})
    demo.found(hands, job, 124.0, "P2", spacers="1", stroke_sag=sag, rebound=("7", {"of_range": 12}))
    with hands.change("plan", 12) as doing:
        core.freeze(doing, job, demo_book.FELLSIDE_CHANGE)


CHAPTERS: tuple[Callable[[Demo], None], ...] = (
    services,
    whole,
    come_back,
    charged,
    small,
    on_the_stand,
    new,
    both_ends,
)


def load() -> None:
    """Make the demo workshop in an empty, migrated database."""
    demo = Demo()
    for chapter in CHAPTERS:
        chapter(demo)
