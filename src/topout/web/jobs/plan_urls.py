"""The plan's address."""

from django.urls import path

from topout.web.jobs import plan_page

urlpatterns = [
    path("jobs/<int:number>/plan/", plan_page.plan, name="plan"),
]
