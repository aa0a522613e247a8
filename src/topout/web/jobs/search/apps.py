from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class SearchConfig(AppConfig):
    name = "topout.web.jobs.search"
    label = "search"

    def ready(self) -> None:
        from django.apps import apps

        from topout.web.book import keeping as book  # models are there only now
        from topout.web.jobs.search import index

        records = apps.get_app_config("jobs")  # signals come for each app with models; once is enough
        pre_migrate.connect(index.before_migrate, sender=records, dispatch_uid="topout-index-lifted")
        post_migrate.connect(index.after_migrate, sender=records, dispatch_uid="topout-index")
        book.erased.connect(index.forget, dispatch_uid="topout-index-forget")

    @staticmethod
    def health() -> list[tuple[str, str]]:
        """What the workshop's health page says of the index."""
        from topout.web.jobs.search import index

        return index.health()

    @staticmethod
    def written() -> dict[str, str]:
        """The index's views and triggers by name, as a SQLite database holds them: what `topout verify` looks for."""
        from topout.web.jobs.search import index

        return index.written()
