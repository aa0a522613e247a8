from django.apps import AppConfig
from django.db.models.signals import post_migrate

from topout.web.jobs import triggers


class JobsConfig(AppConfig):
    name = "topout.web.jobs"
    label = "jobs"

    def ready(self) -> None:
        post_migrate.connect(triggers.after_migrate, dispatch_uid="topout-triggers")
