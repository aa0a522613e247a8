from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "topout.web.demo"
    label = "demo"
