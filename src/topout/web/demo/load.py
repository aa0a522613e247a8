"""The demo workshop: six weeks up to the moment of loading, made by the same functions as the forms.

Nothing is done outside the working day (`demo_clock`): loaded at night or early, the last work is that of the day before.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from importlib import resources
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from topout.units import PSI_PA
from topout.web import clock
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.book import keeping as book
from topout.web.book.models import Bike, Family, Rider, Unit
from topout.web.book.service import save_service
from topout.web.book.tables import Tables
from topout.web.demo import book as demo_book
from topout.web.demo import hours
from topout.web.demo.hands import Hands, picture
from topout.web.jobs import core
from topout.web.jobs.core import own_texts
from topout.web.jobs.readings import photos
from topout.web.jobs.records import changes, own, readings
from topout.web.jobs.records.models import Instrument, Job
from topout.web.jobs.release.leaving import hand_over
from topout.web.shelf import keeping as shelf

PLAN_JOB = 214  # the job whose plan the start command prints: the bike of the mockups
BOTH_JOB = 217  # the bike that is planned at both ends
SEED = 20_251
OWN = "winter-look"  # a procedure of the demo workshop's own: the example of docs/procedures.md
BY_SHAFT = "travel-change-by-air-shaft"


class Demo:
    """The workshop while it is made: people, Book and gauges, and the day it is made on."""

    def __init__(self) -> None:
        self.now = timezone.localtime(clock.now())
        start = self.when(42, "08:00")
        self.maud = _account(demo_book.OWNER, owner=True, at=start)
        self.jory = _account(demo_book.TECHNICIAN, owner=False, at=start)
        Workshop.objects.create(
            name="Demo workshop", demo=True, demo_user=self.maud, altitude="0 m", started_at=start, set_up_at=start
        )
        with change(self.maud, "demo procedure", {"demo": "procedure"}, at=start) as doing:
            procedure = resources.files("topout.web.demo").joinpath(f"{OWN}.toml").read_bytes()
            own.keep(doing, own_texts.check(procedure, OWN))
        self.gauges = {row[0]: _instrument(row, self.maud, start) for row in demo_book.INSTRUMENTS}
        self.riders: dict[str, Rider] = {}
        self.families: dict[str, Family] = {}
        with change(self.maud, "demo book", {"demo": "book"}, at=start) as doing:
            for key, (name, kind, tables, source) in demo_book.FAMILIES.items():
                self.families[key] = book.make_family(doing, name=name, tables=tables, source=source, kind=kind)
            for key, (sheet, values) in demo_book.SHEETS.items():
                for value, text in values.items():
                    save_service(doing, self.families[key], value, text, sheet)
            for key, what in demo_book.RIDERS.items():
                self.riders[key] = book.make_rider(doing, **what)  # type: ignore[arg-type]

    def when(self, days_ago: int, at: str) -> datetime:
        """A time of day so many days ago, in the workshop's own time."""
        day = self.now.date() - timedelta(days=days_ago)
        return timezone.make_aware(datetime.combine(day, time.fromisoformat(at)))

    def hands(self, who: User, at: datetime) -> Hands:
        return Hands(who, at, SEED + Job.objects.count())

    def before(self, minutes: int) -> datetime:
        """So many working minutes before the demo is made."""
        return hours.earlier(self.now, minutes)

    def ahead(self, minutes: int) -> datetime:
        """So many working minutes after the demo is made, to the full quarter of an hour: for what is promised."""
        at = hours.later(self.now, minutes)
        return at.replace(minute=at.minute // 15 * 15, second=0, microsecond=0) if at.hour > 7 else at

    def fitted(
        self,
        hands: Hands,
        rider: str,
        bike: str,
        unit: str,
        tables: Tables,
        own: Tables,
        family: str = "",
        kind: str = "fork",
    ) -> tuple[Rider, Bike, Unit]:
        """A rider's bike with its unit, in the Book."""
        with hands.change("book", 5) as doing:
            on = book.make_bike(doing, rider=self.riders[rider], name=bike, tables=tables)
            fork = book.make_unit(
                doing, bike=on, name=unit, tables=own, family=self.families[family] if family else None, kind=kind
            )
            shelf.make_tag(doing, unit=fork)
        return self.riders[rider], on, fork

    def take_in(self, hands: Hands, title: str, asked: str, fitted: tuple[Rider, Bike, Unit], **more: Any) -> Job:
        rider, bike, unit = fitted
        with hands.change("take in", 6) as doing:
            return changes.take_in(
                doing, rider=rider, bike=bike, unit=unit, asked_title=title, asked=asked, technician=hands.who, **more
            )

    def found(self, hands: Hands, job: Job, pressure_psi: float, gauge: str, **more: Any) -> None:
        """As found: temperature, pressure as that gauge shows it, and the rest."""
        used = self.gauges[gauge]
        shown = hands.shown(pressure_psi * PSI_PA, used, "psi")
        hands.read(
            job, "as-found", temperature=("18 degC", {"instrument": self.gauges["T1"]}),
            pressure=(shown, {"instrument": used, "temperature_k": 291.15}), **more,
        )  # fmt: skip

    def over(self, hands: Hands, job: Job, done: str, next_service: str, *defects: str, notes: str = "") -> None:
        """Hand it over: found and left as the form would word them."""
        from topout.web.jobs.release.hand_over import told

        with hands.change("release", 12) as doing:
            hand_over(
                doing, job, found=told(job, "as-found"), done=done, left=told(job, "as-left"), defects=list(defects),
                next_service=next_service, fit_to_ride=True, notes=notes,
            )  # fmt: skip


def _account(who: tuple[str, str, str], owner: bool, at: datetime) -> User:
    user = User(username=who[0], first_name=who[1], last_name=who[2], is_staff=owner, date_joined=at)
    user.set_unusable_password()  # nobody signs in to the demo by password; on loopback it signs its user in itself
    user.save()
    return user


def _instrument(row: tuple[Any, ...], owner: User, at: datetime) -> Instrument:
    code, kind, name, dimension, span, mark, accuracy, hose = row
    return Instrument.objects.create(
        code=code, kind=kind, name=name, dimension=dimension, span=span, mark=mark, accuracy_class_percent=accuracy,
        hose_volume=hose, confirmed_at=at, confirmed_by=owner,
    )  # fmt: skip


def hollin(demo: Demo, hands: Hands) -> Job:
    """The case of the mockups: ten millimetres more travel and a lighter wheel, up to the frozen plan."""
    bike = demo.fitted(
        hands, "telvik", "Hollin hardtail, size L, 29 in", "Quillon 35 fork", demo_book.HOLLIN, {}, family="quillon"
    )
    job = demo.take_in(
        hands, "travel 140 → 150 mm", "It may stand a touch taller. It should sit as it does now, and not get softer at the end.",
        bike, budget="No spending above 180 without a call.", promised_at=demo.ahead(180), procedure=BY_SHAFT,
    )  # fmt: skip
    pump, tape = demo.gauges["P2"], demo.gauges["M1"]
    first = hands.read(job, "as-found", 10, pressure=("76 psi", {"instrument": pump}))["pressure"]
    with hands.change("correct", 5) as doing:
        again = hands.one(job, "pressure", "71 psi", {"instrument": pump, "temperature_k": 292.15})
        readings.correct(doing, first, again, "gauge at 5 psi with nothing on it")
    hands.read(job, "as-found", 2, temperature=("19 degC", {"instrument": demo.gauges["T1"]}))
    hands.read(job, "as-found", 3, exposed_length=("148 mm", {"instrument": tape}))
    seated = hands.read(job, "as-found", 6, sag=("27 mm", {"instrument": tape, "posture": "seated"}))["sag"]
    with hands.change("correct", 8) as doing:
        standing = hands.one(job, "sag", "31 mm", {"instrument": tape, "posture": "standing", "note": "mean of three"})
        readings.correct(doing, seated, standing, "taken seated; the plan counts standing")
    hands.read(job, "as-found", 3, rebound=("7", {"of_range": 14}), compression=("4", {"of_range": 10}))
    hands.read(job, "as-found", 3, wheel_mass=("2.05 kg", {"instrument": demo.gauges["S1"]}), spacers="2")
    with hands.change("condition", 2) as doing:
        changes.remark(doing, job, "condition", "Left stanchion: one mark, 4 mm long, not felt with a nail.")
        for view in ("Left stanchion, the mark", "Crown and steerer", "Lower legs, from behind"):
            photos.keep(doing, job, picture(view, hands.scatter), of=view)
    with hands.change("plan", 14) as doing:
        core.freeze(doing, job, demo_book.HOLLIN_CHANGE, demo_book.HOLLIN_REASON)
    return job


def tag_old_shaft(demo: Demo, hands: Hands, job: Job, marking: str, **measured: str) -> None:
    """The old shaft, tagged as what it really is."""
    with hands.change("tag", 3) as doing:
        shelf.make_part(
            doing, kind="air shaft", job_number=job.number, marking=marking, family=job.unit.family if job.unit else None,
            measured=measured, state="sound", place="drawer 3",
        )  # fmt: skip


def lay_on_shelf(demo: Demo, hands: Hands) -> None:
    """Parts that may be fitted, measured and tagged."""
    with hands.change("shelf", 8) as doing:
        for what in demo_book.SHELF:
            family = demo.families[what["family"]] if "family" in what else None
            shelf.make_part(doing, **{**what, "family": family})
