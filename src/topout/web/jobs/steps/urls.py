"""Addresses of the steps, and of where a unit stands meanwhile."""

from django.urls import path

from topout.web.jobs.steps import lists, stands, views

urlpatterns = [
    path("jobs/<int:number>/stands/", stands.stands, name="stands"),
    path("jobs/<int:number>/steps/", views.steps_of, name="steps"),
    path("jobs/<int:number>/steps/all/", views.overview, name="steps-overview"),
    path("jobs/<int:number>/steps/standing.json", views.standing, name="steps-standing"),
    path("jobs/<int:number>/steps/do/go-on/", views.go_on, name="steps-go-on"),
    path("jobs/<int:number>/steps/do/stop/", views.stop, name="steps-stop"),
    path("jobs/<int:number>/steps/do/variant/", views.variant, name="steps-variant"),
    path("jobs/<int:number>/steps/do/text/", views.take_text, name="steps-text"),
    path("jobs/<int:number>/steps/do/shown/", lists.shown, name="steps-shown"),
    path("jobs/<int:number>/steps/<slug:key>/", views.step, name="step"),
    path("jobs/<int:number>/steps/<slug:key>/list/", lists.listed, name="step-list"),
    path("jobs/<int:number>/steps/<slug:key>/left/", lists.left, name="step-left"),
    path("jobs/<int:number>/steps/<slug:key>/struck/", lists.struck, name="step-struck"),
    path("jobs/<int:number>/steps/<slug:key>/draft/", views.draft, name="step-draft"),
    path("jobs/<int:number>/steps/<slug:key>/<int:round_>/", views.step, name="step-round"),
    path("jobs/<int:number>/steps/<slug:key>/<int:round_>/draft/", views.draft, name="step-round-draft"),
]
