"""Texts of a workshop's own for the tests, and the ways they are given."""

from __future__ import annotations

import re

from django.contrib.auth.models import User

from topout.web.access.change import change
from topout.web.jobs.core import own_texts
from topout.web.jobs.records import own
from topout.web.jobs.records.models import OwnVersion

TEXT = """# A workshop's own: nothing is opened.
grammar = 2
title = "Wiper care"
version = 1
summary = "The wipers are cleaned and oiled. Nothing is opened. The maker’s sheet comes first."
for = ["fork"]
plan = false

[[group]]
key = "care"
title = "Clean, oil"
complete = "Wipers: complete."

[[group.step]]
key = "wipe"
do = "Wipe both stanchions with a clean cloth."
evidence = [{ key = "wipe", kind = "tick", label = "Wiped" }]

[[group.step]]
key = "oil-drop"
do = "Put a drop of oil on each wiper lip."
evidence = [{ key = "oil-drop", kind = "tick", label = "Oiled" }]

[[group.step]]
key = "lip"
do = "Inspect both lips with a lamp."
hold = true
evidence = [{ key = "lip", kind = "choice", label = "The lips", options = ["Whole", "Torn"], pass = ["Whole"] }]
"""
KEY = "wiper-care"


def text(version: int = 1, **replaced: str) -> str:
    """The text as another version, with words of it replaced: `title="Seal care"`."""
    found = TEXT.replace("version = 1", f"version = {version}")
    for key, value in replaced.items():
        found = re.sub(rf'^{key} = ".*"$', f'{key} = "{value}"', found, count=1, flags=re.MULTILINE)
    return found


def keep(who: User, source: str = TEXT, key: str = KEY) -> OwnVersion:
    """A version that is kept as the page does it."""
    with change(who, "own", {"text": source}) as doing:
        return own.keep(doing, own_texts.check(source.encode(), key))


def name_of(row: OwnVersion) -> str:
    """What a job's card says of a version."""
    return f"own:{row.key}:{row.version}"
