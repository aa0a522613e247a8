"""How this workshop is kept: the database, its journal, the triggers, and what was counted."""

from __future__ import annotations

import shutil
import sqlite3

from django.apps import apps
from django.conf import settings
from django.contrib.auth.models import User
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

import topout
from topout.web.access import preferences
from topout.web.environment import WAL_FROM

JOURNALS = {
    "wal": "write-ahead log; this SQLite keeps it whole",
    "delete": "rollback journal; SQLite before 3.51.3 can damage a write-ahead log in rare cases",
}
SYNCHRONOUS = {
    0: "off",
    1: "normal",
    2: "full: every commit waits for the disk",
    3: "extra: every commit waits for the disk, and so does the end of its journal",
}
NOT_ENOUGH = "NOT enough: after a power cut what was said to be saved may be gone"


def facts() -> list[tuple[str, str]]:
    """Name and value of what a workshop should know, read from the database itself."""
    rows = [("Topout", topout.__version__), ("Database", connection.vendor)]
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            journal = str(cursor.execute("PRAGMA journal_mode").fetchone()[0])
            level = int(cursor.execute("PRAGMA synchronous").fetchone()[0])
            enough = 2 if journal == "wal" else 3
            foreign = int(cursor.execute("PRAGMA foreign_keys").fetchone()[0])
        rows += [
            ("SQLite", f"{sqlite3.sqlite_version}; a write-ahead log from {'.'.join(map(str, WAL_FROM))} on"),
            ("Journal", f"{journal}: {JOURNALS.get(journal, 'not one that Topout sets')}"),
            ("Synchronous", SYNCHRONOUS.get(level, str(level)) if level >= enough else f"{level}: {NOT_ENOUGH}"),
            ("Foreign keys", "checked" if foreign else "not checked"),
        ]
    workshop = preferences.workshop()
    rows += [
        ("Served at", f"{settings.BIND}, {'this machine alone' if settings.LOOPBACK else 'the network; sign-in needed'}"),
        ("Kind", "demo workshop" if workshop and workshop.demo else "workshop"),
        ("Accounts", f"{User.objects.filter(is_active=True).count()} open"),
    ]  # fmt: skip
    for app in apps.get_app_configs():  # what a floor above this one says of what it keeps
        rows += getattr(app, "health", list)()
    return rows


def whereabouts() -> list[tuple[str, str]]:
    """Where the records lie and what room is left there: for the owner alone."""
    folder = settings.DATABASE_PATH.parent
    usage = shutil.disk_usage(folder)
    rows = [
        ("Records", str(settings.DATABASE_PATH)),
        ("Photos", str(settings.PHOTOS)),
        ("Disk left", f"{usage.free / 1e9:.1f} GB of {usage.total / 1e9:.0f} GB"),
    ]
    if not preferences.zone_known():
        rows.append(("Time zone", f"NOT known to this computer; times are shown in {settings.TIME_ZONE}"))
    return rows


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    return render(request, "jobs/health.html", {"nav": "", "facts": facts()})
