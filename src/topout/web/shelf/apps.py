from django.apps import AppConfig


class ShelfConfig(AppConfig):
    name = "topout.web.shelf"
    label = "shelf"
