"""What the start says in the terminal: where the workshop is open, the first account's code, the demo's plan."""

from __future__ import annotations

import io
import ipaddress
import sys

from django.conf import settings

from topout.web import network
from topout.web.access import codes
from topout.web.access.models import Workshop
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.desk import own_folder
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
    plan = told(frozen)
    for warned in plan.heard:  # what can hurt comes before what to set
        say(f"{warned.name}. {warned.text}")
    say(f"{plan.sentence}\n\n{'':26}{'before':>10}{'after':>10}{'difference':>12}")
    for row in plan.rows:
        figures = [cell.whole + cell.fraction for cell in row.cells]
        say(f"{row.name:26}{figures[0]:>10}{figures[1]:>10}{figures[2]:>12}")
    say()


def tell_procedures() -> None:
    """What lies in the folder of the workshop's own procedures and is not taken in yet."""
    if told := own_folder.told():
        say(f"{told}\n")


def address() -> str:
    """The address that a browser of this computer opens, or through the proxy any."""
    if settings.BEHIND_PROXY:
        return f"https://{settings.NAMES[0]}"
    bind = ipaddress.ip_address(settings.BIND)
    here = {4: "127.0.0.1", 6: "::1"}[bind.version] if bind.is_unspecified else str(bind)
    return f"http://{network.in_url(here)}:{settings.PORT}"


def tell_code(served: bool) -> None:
    """Where there is no account yet: the address that makes the owner's, with its one-time code."""
    code = codes.make_start_code()
    if code is not None:
        when = "Open this address" if served else "While the workshop is served, open this address"
        say(f"There is no account yet. {when} to make the owner's; it works once and lasts a day:")
        say(f"\n    {address()}/start/?code={codes.grouped(code)}\n")


def tell_records() -> None:
    """What was made ready, where nothing is served."""
    say(f"The records are up to date. Nothing is served: without --no-serve the workshop opens at {address()}/")
    say(f"Its records: {settings.DATABASE_PATH}")


def tell_addresses(workshop: Workshop) -> None:
    """Where the workshop is open; on a network each address of this computer, and the first as a code for a camera."""
    say(f"The workshop is open at {address()}/")
    if not settings.LOOPBACK:
        _tell_network()
    elif settings.BEHIND_PROXY:
        say(f"The proxy finds it at http://{network.in_url(settings.BIND)}:{settings.PORT}/ on this computer.")
    if workshop.demo and (settings.BEHIND_PROXY or not settings.LOOPBACK):
        say(
            "Seen from elsewhere the demo signs nobody in by itself: topout owner-code --demo gives a code to sign in with."
        )
    say(f"Its records: {settings.DATABASE_PATH}")
    say("Ctrl-C closes it.")


def _code(held: str) -> str:
    """A QR code in half blocks, white on black whatever the terminal's own colours are."""
    import segno

    drawn = io.StringIO()
    segno.make(held, micro=False).terminal(drawn, border=2, compact=True)
    return "".join(f"\x1b[38;5;231;48;5;16m{line}\x1b[0m\n" for line in drawn.getvalue().splitlines())


def _tell_network() -> None:
    addresses = [f"http://{network.in_url(each)}:{settings.PORT}/" for each in network.served_addresses(settings.BIND)]
    if not addresses:
        say("This computer has no address on a network yet; once it has one, the workshop is open there too.")
        return
    say(
        "On a tablet of the same network, open:"
        if len(addresses) == 1
        else "On a tablet of the same network, open one of:"
    )
    for each in addresses:
        say(f"    {each}")
    if sys.stdout.isatty() and (sys.stdout.encoding or "").lower().startswith("utf"):
        say("or point its camera here:")
        sys.stdout.write(_code(addresses[0]))
    say("Without TLS everyone on that network can read what is sent, passwords too: docs/serving.md has the way out.")
