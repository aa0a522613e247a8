"""Addresses of readings, photos and instruments."""

from django.urls import path

from topout.web.jobs.readings import held, instruments, pages, photos

urlpatterns = [
    path("instruments/", instruments.instruments, name="instruments"),
    path("instruments/new/", instruments.instrument_new, name="instrument-new"),
    path("instruments/<int:pk>/confirm/", instruments.instrument_confirm, name="instrument-confirm"),
    path("instruments/<int:pk>/away/", instruments.instrument_away, name="instrument-away"),
    path("understood/", pages.understood, name="understood"),
    path("jobs/<int:number>/readings/<slug:stage>/", pages.write_down, name="readings"),
    path("jobs/<int:number>/readings/<slug:stage>/draft/", pages.draft, name="readings-draft"),
    path("jobs/<int:number>/correct/<int:pk>/", pages.correct, name="correct"),
    path("photos/hold/", held.hold_photos, name="hold-photos"),
    path("photos/held/<str:token>/", held.held_photo, name="held-photo"),
    path("jobs/<int:number>/photos/<slug:sha256>.jpg", photos.photo, name="photo"),
    path("jobs/<int:number>/photos/<slug:sha256>/small.jpg", photos.photo_small, name="photo-small"),
]
