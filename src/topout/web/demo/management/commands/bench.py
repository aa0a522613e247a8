"""`manage.py bench`: bring the database up to date, load the demo once, say where the workshop is, and serve it."""

from __future__ import annotations

import argparse
from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from topout.terminal import printable
from topout.web import clock, modes, start, storage
from topout.web.access import codes
from topout.web.access.models import Workshop
from topout.web.demo import jobs
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.plan.frozen import told
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import FrozenPlan
from topout.web.jobs.records.plans import current_plan

MOST_BODY = 64 * 1024 * 1024  # eight photos and a form


class Command(BaseCommand):
    help = "Bring the database up to date and serve the workshop."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        start.options(parser)
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")

    def handle(self, *args: Any, **given: Any) -> None:
        settings.DATABASE_PATH.parent.mkdir(parents=True, exist_ok=True)
        try:
            mended = modes.mend(settings.DATABASE_PATH, settings.PHOTOS, settings.SECRET_FILE)
        except ImproperlyConfigured as error:
            raise refusal(str(error)) from None
        if mended:
            self._say(mended)
        trouble = storage.at_start()
        if trouble is not None:
            raise refusal(f"{settings.DATABASE_PATH}: {trouble.words} {trouble.way.replace('send this', 'start')}")
        bring_up_to_date()
        workshop = open_workshop(given["demo"])
        if workshop.demo:
            self._tell_plan()
        else:
            self._tell_code()
        if given["no_serve"]:
            self._tell_place()
            return
        server = listen()
        self._tell_place()
        server.run()

    def _say(self, line: str) -> None:
        """A line to the terminal: the one way there, since names come out of the database."""
        self.stdout.write(printable(line, getattr(self.stdout, "encoding", None)))

    def _tell_plan(self) -> None:
        """The demo job's plan, as it stands on its card."""
        frozen = FrozenPlan.objects.filter(job__number=PLAN_JOB).first()
        frozen = current_plan(frozen.job) if frozen else None
        if frozen is None:
            return
        job = frozen.job
        self._say(f"Job {job.number}: {job.unit}, {job.asked_title}")
        self._say(f"{frozen.sentence}\n\n{'':26}{'before':>10}{'after':>10}{'difference':>12}")
        plan = told(frozen)
        for row in plan.rows:
            figures = [cell.whole + cell.fraction for cell in row.cells]
            self._say(f"{row.name:26}{figures[0]:>10}{figures[1]:>10}{figures[2]:>12}")
        for warned in plan.heard:
            self._say(f"{warned.name}. {warned.text}")
        self._say("")

    def _tell_code(self) -> None:
        code = codes.make_start_code()
        if code is not None:
            self._say("There is no account yet. Make the first one with this code; it works once and lasts a day:")
            self._say(f"\n    {codes.grouped(code)}\n")

    def _tell_place(self) -> None:
        host = f"[{settings.BIND}]" if ":" in settings.BIND else settings.BIND
        self._say(f"The workshop is open at http://{host}:{settings.PORT}/")
        self._say("Ctrl-C closes it.")
        self.stdout.flush()


def refusal(words: str) -> CommandError:
    """What stops the start, in words fit for a terminal."""
    return CommandError(printable(words))


def listen() -> Any:
    """A server that holds the address; raises CommandError where another program holds it already."""
    from waitress.server import create_server

    from topout.web.wsgi import application

    try:
        return create_server(
            application, host=settings.BIND, port=settings.PORT, threads=8, ident="", max_request_body_size=MOST_BODY,
            clear_untrusted_proxy_headers=False,  # nothing trusts them; the demo sees by them that a proxy asks
        )  # fmt: skip
    except OSError as error:
        raise refusal(
            f"{settings.BIND}:{settings.PORT} can't be served ({error.strerror}). Is the workshop open already? Give it "
            f"another port: TOPOUT_PORT={settings.PORT + 1} make run, or topout serve --port {settings.PORT + 1}."
        ) from None


def bring_up_to_date() -> None:
    """Migrate where anything is to do; the triggers are looked at on every start."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", verbosity=0, interactive=False)
    elif triggers.missing():
        triggers.write()


def open_workshop(wanted_demo: bool) -> Workshop:
    """The workshop of this database, made on its first start; the demo is loaded whole or not at all."""
    workshop = Workshop.objects.first()
    if workshop is None:
        if wanted_demo:
            with transaction.atomic():
                jobs.load()
        else:
            Workshop.objects.create(started_at=clock.now())
        workshop = Workshop.objects.get()
    if wanted_demo and not workshop.demo:
        raise refusal(
            f"{settings.DATABASE_PATH} is a workshop's own database. The demo needs one of its own: leave TOPOUT_DATABASE out."
        )
    return workshop
