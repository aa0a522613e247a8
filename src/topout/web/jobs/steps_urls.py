from django.urls import path

from topout.web.jobs import steps_views

urlpatterns = [
    path("jobs/<int:number>/steps/", steps_views.steps_of, name="steps"),
    path("jobs/<int:number>/steps/all/", steps_views.overview, name="steps-overview"),
    path("jobs/<int:number>/steps/standing.json", steps_views.standing, name="steps-standing"),
    path("jobs/<int:number>/steps/do/go-on/", steps_views.go_on, name="steps-go-on"),
    path("jobs/<int:number>/steps/do/stop/", steps_views.stop, name="steps-stop"),
    path("jobs/<int:number>/steps/do/variant/", steps_views.variant, name="steps-variant"),
    path("jobs/<int:number>/steps/do/text/", steps_views.take_text, name="steps-text"),
    path("jobs/<int:number>/steps/<slug:key>/", steps_views.step, name="step"),
    path("jobs/<int:number>/steps/<slug:key>/draft/", steps_views.draft, name="step-draft"),
    path("jobs/<int:number>/steps/<slug:key>/<int:round_>/", steps_views.step, name="step-round"),
    path("jobs/<int:number>/steps/<slug:key>/<int:round_>/draft/", steps_views.draft, name="step-round-draft"),
]
