"""Addresses of the Bench, the card, the take-in and the workshop's own procedures."""

from django.urls import path

from topout.web.jobs.desk import asked, bench, card, own_procedures, set_up, take_in

urlpatterns = [
    path("", bench.bench, name="bench"),
    path("procedures/", own_procedures.own_procedures, name="own-procedures"),
    path("procedures/new/", own_procedures.own_procedure_new, name="own-procedure-new"),
    path("procedures/folder/", own_procedures.own_procedures_folder, name="own-procedures-folder"),
    path("procedures/<slug:key>/<int:version>/", own_procedures.own_procedure, name="own-procedure"),
    path("procedures/<slug:key>/<int:version>/file/", own_procedures.own_procedure_file, name="own-procedure-file"),
    path("procedures/<slug:key>/switch/", own_procedures.own_procedure_switch, name="own-procedure-switch"),
    path("jobs/new/", take_in.job_new, name="job-new"),
    path("jobs/new/draft/", take_in.job_new_draft, name="job-new-draft"),
    path("jobs/new/procedures/", take_in.procedures, name="job-new-procedures"),
    path("jobs/new/when/", take_in.when, name="job-new-when"),
    path("riders/<int:pk>/set-up/", set_up.set_up, name="set-up"),
    path("jobs/<int:number>/", card.card, name="job"),
    path("jobs/<int:number>/change/", asked.job_change, name="job-change"),
    path("jobs/<int:number>/waits/", card.wait, name="job-waits"),
]
