from django.apps import AppConfig


class BookConfig(AppConfig):
    name = "topout.web.book"
    label = "book"
