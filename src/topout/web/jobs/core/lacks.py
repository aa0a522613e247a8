"""What an answer lacks, in a page's words: a file's keys are for files."""

from __future__ import annotations

from collections.abc import Iterable

from topout.errors import Fault
from topout.planner import missing
from topout.web.book import tables as bench_tables


def said(faults: Iterable[Fault]) -> list[str]:
    """What speaks against an answer: in one line all that is not known, then each other fault."""
    faults = list(faults)
    open_ = [
        fault for fault in faults if fault.message.startswith(missing.NEEDED) or fault.message.startswith("missing")
    ]
    named = list(dict.fromkeys(missing.words(fault.location) for fault in open_))
    first = [f"Not known, and needed for this: {', '.join(named)}."] if named else []
    return first + [_of_one(fault) for fault in faults if fault not in open_]


def _of_one(fault: Fault) -> str:
    if fault.location.startswith("--"):  # a page has no options to name
        return f"{fault.message[:1].upper()}{fault.message[1:]}"
    return bench_tables.fault_in_words(fault)
