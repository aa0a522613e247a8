"""Every address of the workshop; each room brings its own list."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("topout.web.access.urls")),
    path("", include("topout.web.jobs.steps.urls")),
    path("", include("topout.web.jobs.plan.urls")),
    path("", include("topout.web.jobs.options.urls")),
    path("", include("topout.web.jobs.release.urls")),
    path("", include("topout.web.jobs.readings.urls")),
    path("", include("topout.web.jobs.desk.urls")),
    path("", include("topout.web.jobs.search.urls")),
    path("", include("topout.web.shelf.urls")),
    path("", include("topout.web.workshop.urls")),
    path("", include("topout.web.backup.urls")),
    path("", include("topout.web.export.urls")),
    path("", include("topout.web.guide.urls")),
    path("book/", include("topout.web.book.urls")),
]
handler400 = "topout.web.faults.bad_request"
handler403 = "topout.web.faults.forbidden"
handler404 = "topout.web.faults.not_found"
handler500 = "topout.web.faults.server_fault"
