from django.apps import AppConfig


class AccessConfig(AppConfig):
    name = "topout.web.access"
    label = "access"
