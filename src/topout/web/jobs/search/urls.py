"""The address of the find box."""

from django.urls import path

from topout.web.jobs.search import views

urlpatterns = [path("find/", views.find_page, name="find")]
