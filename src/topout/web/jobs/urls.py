from django.urls import path

from topout.web.jobs import bench, card, hand_over, health, instruments, intake, photos, reading_pages, stands, workshop

urlpatterns = [
    path("", bench.bench, name="bench"),
    path("health/", health.health, name="health"),
    path("workshop/", workshop.workshop, name="workshop"),
    path("instruments/", instruments.instruments, name="instruments"),
    path("instruments/new/", instruments.instrument_new, name="instrument-new"),
    path("instruments/<int:pk>/away/", instruments.instrument_away, name="instrument-away"),
    path("understood/", reading_pages.understood, name="understood"),
    path("jobs/new/", intake.job_new, name="job-new"),
    path("jobs/new/draft/", intake.job_new_draft, name="job-new-draft"),
    path("jobs/<int:number>/", card.card, name="job"),
    path("jobs/<int:number>/change/", intake.job_change, name="job-change"),
    path("jobs/<int:number>/waits/", card.wait, name="job-waits"),
    path("jobs/<int:number>/readings/<slug:stage>/", reading_pages.write_down, name="readings"),
    path("jobs/<int:number>/readings/<slug:stage>/draft/", reading_pages.draft, name="readings-draft"),
    path("jobs/<int:number>/correct/<int:pk>/", reading_pages.correct, name="correct"),
    path("jobs/<int:number>/photos/<slug:sha256>.jpg", photos.photo, name="photo"),
    path("jobs/<int:number>/stands/", stands.stands, name="stands"),
    path("jobs/<int:number>/hand-over/", hand_over.write, name="hand-over"),
    path("jobs/<int:number>/hand-over/draft/", hand_over.draft, name="hand-over-draft"),
    path("jobs/<int:number>/hand-over/check/", hand_over.check, name="hand-over-check"),
]
