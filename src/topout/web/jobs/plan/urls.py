"""The plan's addresses."""

from django.urls import path

from topout.web.jobs.plan import page, questions

urlpatterns = [
    path("jobs/<int:number>/plan/", page.plan, name="plan"),
    path("jobs/<int:number>/plan/draft/", page.keep_draft, name="plan-draft"),
    path("jobs/<int:number>/questions/", questions.ask, name="questions"),
]
