"""Addresses of a job's papers."""

from django.urls import path

from topout.web.jobs import papers

urlpatterns = [
    path("jobs/<int:number>/papers/", papers.papers, name="papers"),
    path("jobs/<int:number>/sheet.pdf", papers.sheet, name="sheet"),
    path("jobs/<int:number>/tag/<slug:code>/", papers.tag, name="job-tag"),
    path("jobs/<int:number>/tag/<slug:code>.pdf", papers.tag_pdf, name="job-tag-pdf"),
    path("jobs/<int:number>/tag/<slug:code>.png", papers.tag_png, name="job-tag-png"),
    path("T/<slug:code>", papers.held, name="held"),
]
