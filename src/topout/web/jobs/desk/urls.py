"""Addresses of the Bench, the card and the take-in."""

from django.urls import path

from topout.web.jobs.desk import bench, card, take_in

urlpatterns = [
    path("", bench.bench, name="bench"),
    path("jobs/new/", take_in.job_new, name="job-new"),
    path("jobs/new/draft/", take_in.job_new_draft, name="job-new-draft"),
    path("jobs/<int:number>/", card.card, name="job"),
    path("jobs/<int:number>/change/", take_in.job_change, name="job-change"),
    path("jobs/<int:number>/waits/", card.wait, name="job-waits"),
]
