"""Addresses of what goes out as files, and of riders and bikes that come in."""

from django.urls import path

from topout.web.export import page

urlpatterns = [
    path("workshop/data/", page.whole, name="export-all"),
    path("workshop/riders-in/", page.riders_in, name="riders-in"),
    path("book/riders/<int:pk>/data/", page.of_rider, name="export-rider"),
]
