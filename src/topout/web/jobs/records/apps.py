from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate

from topout.web.jobs.records import triggers


class RecordsConfig(AppConfig):
    name = "topout.web.jobs.records"
    label = "jobs"

    def ready(self) -> None:
        from topout.web.book import keeping as book  # models are there only now
        from topout.web.jobs.records import changes, drafts

        pre_migrate.connect(triggers.before_migrate, sender=self, dispatch_uid="topout-triggers-lifted")
        post_migrate.connect(triggers.after_migrate, sender=self, dispatch_uid="topout-triggers")
        book.erased.connect(drafts.forget, dispatch_uid="topout-drafts-forget")
        book.erased.connect(changes.forget_rider, dispatch_uid="topout-rider-forget")

    @staticmethod
    def health() -> list[tuple[str, str]]:
        """What the workshop's health page says of the records."""
        return triggers.health()
