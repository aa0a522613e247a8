"""Every address of the workshop. Plan pages and step pages bring their own lists."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("topout.web.access.urls")),
    path("", include("topout.web.jobs.steps_urls")),
    path("", include("topout.web.jobs.plan_urls")),
    path("", include("topout.web.jobs.papers_urls")),
    path("", include("topout.web.jobs.urls")),
    path("", include("topout.web.shelf.urls")),
    path("book/", include("topout.web.book.urls")),
]
handler400 = "topout.web.faults.bad_request"
handler403 = "topout.web.faults.forbidden"
handler404 = "topout.web.faults.not_found"
handler500 = "topout.web.faults.server_fault"
