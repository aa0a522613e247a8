"""The one table of what is looked at: pages × states. Each is measured at tablet and phone size, in the soak at every width (`rules.py`).

Complete against the list of addresses: an address is a page here, or stands in `NO_PAGE` with the reason why it shows none.
`STATES_ASKED` are the states that must be in it. Entries of `DEMO` are looked at in the demo workshop, by
tests/web/test_every_page_browser.py; those of `OWN` in a workshop made for them, by tests/web/browser/test_states_browser.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from web import addresses

NO_PAGE = {  # addresses that show no page of their own, and why
    "sign-out": "takes a form and leads to the sign-in page",
    "understood": "answers what was understood of a box, a line", "job-new-when": "a line, too", "job-new-procedures": "a box of the take-in, drawn anew",
    "steps-standing": "JSON for the step page",
    "far-in-strike": "takes a form", "far-in-earlier-strike": "takes a form", "steps-go-on": "takes a form", "steps-stop": "takes a form", "steps-variant": "takes a form", "steps-text": "takes a form",
    "steps-shown": "takes a form", "step-left": "takes a form", "step-struck": "takes a form",
    "account-code": "takes a form", "backup-download": "takes a form", "export-all": "takes a form", "export-rider": "takes a form",
    "job-tag-print": "takes a form", "instrument-away": "takes a form", "instrument-confirm": "takes a form",
    "step-draft": "takes what is typed", "step-round-draft": "takes what is typed",
    "job-new-draft": "takes what is typed", "readings-draft": "takes what is typed", "plan-draft": "takes what is typed", "hand-over-draft": "takes what is typed",
    "sheet": "a PDF, read back in tests/documents", "job-tag-pdf": "a PDF, read back in tests/documents",
    "job-tag-png": "a picture", "photo": "a picture", "photo-small": "a picture", "held-photo": "a picture", "hold-photos": "takes photos",
    "bench-file-out": "a bench file", "own-procedure-file": "a procedure’s text", "own-procedure-switch": "takes a form",
    "step-round": "leads to the step that comes next",
}  # fmt: skip
BENCH_PAGES = {"steps", "step", "step-list"}


@dataclass(frozen=True)
class Look:
    """One page in one state. `path` is empty where the address says it; `who` looks: owner, technician or nobody."""

    page: str  # the name of the address; "" where it is none of ours
    state: str = "usual"
    path: str = ""
    who: str = "owner"
    status: int = 200
    bench: bool = False

    @property
    def name(self) -> str:
        return self.page if self.state == "usual" else f"{self.page or 'none'}: {self.state}"


PAGES = [name for name in addresses.names() if name not in NO_PAGE]
DEMO = [
    *(Look(name, bench=name in BENCH_PAGES) for name in PAGES),
    Look("steps", "blocked", "/jobs/209/steps/", bench=True),
    Look("steps", "no procedure", "/jobs/212/steps/"),
    Look("job", "interrupted", "/jobs/214/"),
    Look("job", "blocked", "/jobs/209/"),
    Look("job", "released", "/jobs/206/"),
    Look("job", "no reading", "/jobs/216/"),
    Look("papers", "released", "/jobs/206/papers/"),
    Look("readings", "as left", "/jobs/213/readings/as-left/"),
    Look("hand-over", "ready", "/jobs/210/hand-over/"),
    Look("plan", "error", "/jobs/214/plan/?travel=150&pressure=7o&spacers=1&offset=44&bead=622&tyre=62"),
    Look("find", "nothing found", "/find/?q=zzzz"),
    Look("find", "some found", "/find/?q=fork"),
    Look("job", "not found", "/jobs/99999/", status=404),
    Look("guide-page", "settings", "/guide/settings/"),
    Look("", "unknown address", "/nothing/here/", status=404),
    Look("sign-in", "signed out", "/jobs/214/", who="nobody"),
    Look("accounts", "forbidden", who="technician", status=403),
    Look("health", "server error", status=500),
]
STEPS = "/jobs/301/steps/"
OWN = [
    Look("bench", "empty", "/"), Look("book", "empty", "/book/"), Look("shelf", "empty", "/shelf/"),
    Look("instruments", "empty", "/instruments/"), Look("start", "no account", "/start/", who="nobody"),
    Look("workshop", "first questions", "/workshop/"), Look("accounts", "code shown once", "/accounts/"),
    Look("bench", "many", "/"), Look("book", "many", "/book/"), Look("job-new", "many", "/jobs/new/"),
    Look("steps", "first step", STEPS, who="technician", bench=True),
    Look("steps", "stopped safely", STEPS, who="technician"),
    Look("steps", "held: hold point", STEPS, who="technician", bench=True),
    Look("steps", "blocked: drawn in", STEPS, who="technician", bench=True),
    Look("steps", "own keys", STEPS, who="technician", bench=True),
    Look("step-list", "own keys beside the list", STEPS + "old-shaft-measured/list/?put=old-shaft-measured", who="technician", bench=True),
    Look("steps", "photo asked for", STEPS, who="technician", bench=True),
    Look("steps", "variant on", STEPS, bench=True),
    Look("steps-overview", "variant on", STEPS + "all/"),
    Look("steps", "reading out of its bounds", STEPS, who="technician", bench=True),
    Look("steps", "filling", STEPS, who="technician", bench=True),
    Look("steps", "held: leak hold", STEPS, who="technician", bench=True),
    Look("step-list", "held: leak hold in its list", STEPS, who="technician", bench=True),
    *(Look("step", f"leak hold: {said}", STEPS + "leak-end/", who="technician", bench=True) for said in ("not yet", "leaks", "holds")),
]  # fmt: skip
# Errors of forms: every form is sent wrong, and looked at then, by tests/web/browser/test_wrong_forms_browser.py.
STATES_ASKED = (
    "empty", "many", "error", "blocked", "held", "interrupted", "released", "variant on", "stopped safely", "signed out",
    "forbidden", "not found", "server error",
)  # fmt: skip


def named(looks: list[Look], keep: Callable[[Look], bool] = lambda _: True) -> dict[str, Look]:
    return {look.name: look for look in looks if keep(look)}
