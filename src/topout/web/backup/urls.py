"""Addresses of the copies."""

from django.urls import path

from topout.web.backup import page

urlpatterns = [path("workshop/copy/", page.download, name="backup-download")]
