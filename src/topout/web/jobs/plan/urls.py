"""The plan's addresses."""

from django.urls import path

from topout.web.jobs.plan import far_in, page, questions

urlpatterns = [
    path("jobs/<int:number>/plan/", page.plan, name="plan"),
    path("jobs/<int:number>/plan/draft/", page.keep_draft, name="plan-draft"),
    path("jobs/<int:number>/questions/", questions.ask, name="questions"),
    path("jobs/<int:number>/plan/far-in/", far_in.far_in, name="far-in"),
    path("jobs/<int:number>/plan/far-in/earlier/", far_in.earlier, name="far-in-earlier"),
    path("jobs/<int:number>/plan/far-in/earlier/<int:pk>/", far_in.strike_earlier, name="far-in-earlier-strike"),
    path("jobs/<int:number>/plan/far-in/<int:pk>/", far_in.strike, name="far-in-strike"),
]
