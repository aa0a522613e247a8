from django.apps import AppConfig


class WorkshopConfig(AppConfig):
    name = "topout.web.workshop"
    label = "workshop"
