"""What the start says in the terminal: where the workshop is open, the first account's code, the demo's plan."""

from __future__ import annotations

from django.conf import settings

from topout.web.access import codes
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.plan.frozen import told
from topout.web.jobs.records.models import FrozenPlan
from topout.web.jobs.records.plans import current_plan
from topout.web.start import say


def tell_plan() -> None:
    """The demo job's plan, as it stands on its card."""
    frozen = FrozenPlan.objects.filter(job__number=PLAN_JOB).first()
    frozen = current_plan(frozen.job) if frozen else None
    if frozen is None:
        return
    job = frozen.job
    say(f"Job {job.number}: {job.unit}, {job.asked_title}")
    say(f"{frozen.sentence}\n\n{'':26}{'before':>10}{'after':>10}{'difference':>12}")
    plan = told(frozen)
    for row in plan.rows:
        figures = [cell.whole + cell.fraction for cell in row.cells]
        say(f"{row.name:26}{figures[0]:>10}{figures[1]:>10}{figures[2]:>12}")
    for warned in plan.heard:
        say(f"{warned.name}. {warned.text}")
    say()


def address() -> str:
    """The address that a browser of this computer opens."""
    host = f"[{settings.BIND}]" if ":" in settings.BIND else settings.BIND
    return f"http://{host}:{settings.PORT}"


def tell_code() -> None:
    """Where there is no account yet: the address that makes the owner's, with its one-time code."""
    code = codes.make_start_code()
    if code is not None:
        say("There is no account yet. Open this address to make the owner's; it works once and lasts a day:")
        say(f"\n    {address()}/start/?code={codes.grouped(code)}\n")


def tell_address() -> None:
    say(f"The workshop is open at {address()}/")
    say("Ctrl-C closes it.")
