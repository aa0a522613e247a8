from django.urls import path

from topout.web.jobs import bench

urlpatterns = [
    path("", bench.bench, name="bench"),
]
