"""Addresses of the relays' pages."""

from django.urls import path

from relays.web import paths, relays, stations

app_name = "relays"
urlpatterns = [
    path("stations/new/", stations.new_station, name="new_station"),
    path("stations/<int:pk>/", stations.station, name="station"),
    path("stations/<int:pk>/remove/", stations.remove_station, name="remove_station"),
    path("path/", paths.path_page, name="path"),
    path("relays/", relays.relay_list, name="list"),
    path("relays/<slug:slug>/", relays.relay_page, name="page"),
]
