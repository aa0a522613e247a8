"""The address of what to fit."""

from django.urls import path

from topout.web.jobs.options import page

urlpatterns = [path("jobs/<int:number>/options/", page.options, name="options")]
