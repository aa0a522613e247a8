"""A job for the plan page: the bike of tests/reference/hollin.toml in the Book, its readings on the card."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.models import User
from django.test import Client

from topout import units
from topout.web.access.change import change, new_key
from topout.web.book import keeping as book
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from web import people

HOLLIN = Path(__file__).parents[1] / "reference" / "hollin.toml"
ASKED = {"travel": "150", "pressure": "70", "spacers": "1", "offset": "44", "bead": "622", "tyre": "62"}


def hollin_job(who: User, **instead: dict[str, object]) -> Job:
    """The job; `instead` lays keys over a table of the unit, with dots as underscores: `fork_air={"pressure": "60 psi"}`."""
    data = HOLLIN.read_bytes()
    rider_tables, bike_tables, every = book.take_apart(data)
    unit_tables = every["fork"]
    for name, keys in instead.items():
        table = {"fork_air": "fork.air", "fork": "fork"}.get(name, name)
        target = bike_tables if table in bike_tables else unit_tables
        target.setdefault(table, {}).update(keys)
    found = tomllib.loads(data.decode())["found"]
    with change(who, "hollin", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Runa Telvik", tables=rider_tables)
        bike = book.make_bike(doing, rider=rider, name="Hollin hardtail, size L", tables=bike_tables)
        unit = book.make_unit(doing, bike=bike, name="Quillon 35 fork", tables=unit_tables)
        job = changes.take_in(
            doing, rider=rider, bike=bike, unit=unit, asked_title="travel 140 → 150 mm", asked="Ten more.",
            procedure="travel-change-by-air-shaft",
        )  # fmt: skip
        for kind, text, dimension, more in (
            ("temperature", "19 degC", "temperature", {}),
            ("pressure", found["pressure"], "pressure", {}),
            ("sag", found["sag"], "length", {"posture": "standing"}),
        ):
            readings.take(doing, job, "as-found", Taken.quantity(kind, units.parse(text, dimension), dimension, **more))
        readings.take(doing, job, "as-found", Taken.count("spacers", 2))
    return job


def press(client: Client, job: Job, boxes: dict[str, str], **more: str) -> Any:
    """The plan page's button, under the answer to these boxes: for what hangs on the plan put to use, not on the page it is seen on."""
    hidden = {"csrfmiddlewaretoken": people.token(client), "change_key": new_key(), "answered": urlencode(boxes)}
    return client.post(f"/jobs/{job.number}/plan/", boxes | hidden | more)
