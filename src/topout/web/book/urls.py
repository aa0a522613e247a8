from django.urls import path

from topout.web.book import files, fitting_pages, service_pages, views

urlpatterns = [
    path("", views.book, name="book"),
    path("riders/new/", views.rider_new, name="rider-new"),
    path("riders/<int:pk>/", views.rider, name="rider"),
    path("riders/<int:pk>/change/", views.rider_change, name="rider-change"),
    path("riders/<int:pk>/erase/", views.rider_erase, name="rider-erase"),
    path("riders/<int:rider_pk>/bikes/new/", views.bike_new, name="bike-new"),
    path("riders/<int:rider_pk>/bench-file/", files.take_in, name="bench-file-in"),
    path("bikes/<int:pk>/", views.bike, name="bike"),
    path("bikes/<int:pk>/change/", views.bike_change, name="bike-change"),
    path("bikes/<int:bike_pk>/units/new/", views.unit_new, name="unit-new"),
    path("units/<int:pk>/", views.unit, name="unit"),
    path("units/<int:pk>/change/", views.unit_change, name="unit-change"),
    path("units/<int:pk>/fitted/", fitting_pages.fit, name="unit-fitted"),
    path("units/<int:pk>/bench-file.toml", files.export, name="bench-file-out"),
    path("families/new/", views.family_new, name="family-new"),
    path("families/<int:pk>/", views.family_change, name="family-change"),
    path("families/<int:pk>/service/", service_pages.sheet, name="family-service"),
    path("families/<int:pk>/service/<str:name>/<int:travel_mm>/", service_pages.correct, name="family-service-correct"),
]
