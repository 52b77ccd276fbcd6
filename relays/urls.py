"""Addresses of the relays' pages."""

from django.urls import path

from relays.web import paths, relays

app_name = "relays"
urlpatterns = [
    path("path/", paths.path_page, name="path"),
    path("relays/", relays.relay_list, name="list"),
    path("relays/<slug:slug>/", relays.relay_page, name="page"),
]
