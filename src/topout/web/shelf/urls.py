from django.urls import path

from topout.web.shelf import views

urlpatterns = [
    path("shelf/", views.shelf, name="shelf"),
    path("shelf/new/", views.part_new, name="part-new"),
    path("shelf/<int:pk>/", views.part_change, name="part-change"),
    path("t/<slug:code>/", views.tag, name="tag"),
]
