"""The plan's addresses."""

from django.urls import path

from topout.web.jobs import plan_page

urlpatterns = [
    path("jobs/<int:number>/plan/", plan_page.plan, name="plan"),
    path("jobs/<int:number>/plan/draft/", plan_page.keep_draft, name="plan-draft"),
]
