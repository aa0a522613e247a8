"""Addresses of the guide."""

from django.urls import path

from topout.web.guide import views

urlpatterns = [
    path("guide/", views.contents, name="guide"),
    path("guide/<slug:name>/", views.page, name="guide-page"),
]
