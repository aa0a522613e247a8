"""Addresses of the hand-over and of a job's papers."""

from django.urls import path

from topout.web.jobs.release import hand_over, papers

urlpatterns = [
    path("jobs/<int:number>/hand-over/", hand_over.write, name="hand-over"),
    path("jobs/<int:number>/hand-over/draft/", hand_over.draft, name="hand-over-draft"),
    path("jobs/<int:number>/hand-over/check/", hand_over.check, name="hand-over-check"),
    path("jobs/<int:number>/papers/", papers.papers, name="papers"),
    path("jobs/<int:number>/sheet.pdf", papers.sheet, name="sheet"),
    path("jobs/<int:number>/tag/<slug:code>/", papers.tag, name="job-tag"),
    path("jobs/<int:number>/tag/<slug:code>/print/", papers.print_tag, name="job-tag-print"),
    path("jobs/<int:number>/tag/<slug:code>.pdf", papers.tag_pdf, name="job-tag-pdf"),
    path("jobs/<int:number>/tag/<slug:code>.png", papers.tag_png, name="job-tag-png"),
    path("T/<slug:code>", papers.held, name="held"),
]
