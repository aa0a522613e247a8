"""Addresses of the workshop's own settings and how it is kept."""

from django.urls import path

from topout.web.workshop import health, page

urlpatterns = [
    path("health/", health.health, name="health"),
    path("workshop/", page.workshop, name="workshop"),
]
