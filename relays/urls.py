"""Addresses of the relays' pages."""

from django.urls import path

from relays.web import (
    coverage_runs,
    map,
    map_data,
    map_point,
    paths,
    relays,
    stations,
    upkeep,
    upkeep_papers,
)

app_name = "relays"
urlpatterns = [
    path("stations/new/", stations.new_station, name="new_station"),
    path("stations/<int:pk>/", stations.station, name="station"),
    path("stations/<int:pk>/remove/", stations.remove_station, name="remove_station"),
    path("path/", paths.path_page, name="path"),
    path("map/", map.map_page, name="map"),
    path("map/relief.png", map_data.relief, name="relief"),
    path("map/point/", map_point.point, name="point"),
    path("map/<slug:slug>/loss", map_data.loss, name="loss"),
    path("map/<slug:slug>/loss.tif", map_data.loss_file, name="loss_file"),
    path("map/<slug:slug>/picture.zip", map_data.picture, name="picture"),
    path("map/<slug:slug>/outlines.geojson", map_data.outlines, name="outlines"),
    path("coverage/", coverage_runs.run_list, name="coverage"),
    path("coverage/ask/", coverage_runs.ask, name="ask_coverage"),
    path("coverage/<int:pk>/cancel/", coverage_runs.cancel, name="cancel_coverage"),
    path("coverage/<int:pk>/again/", coverage_runs.again, name="coverage_again"),
    path("upkeep/", upkeep.board, name="upkeep"),
    path("upkeep/board.csv", upkeep.board_file, name="upkeep_file"),
    path("upkeep/papers/", upkeep_papers.renewals, name="upkeep_renewals"),
    path("upkeep/keys/", upkeep_papers.key_list, name="upkeep_keys"),
    path("upkeep/keys/<int:pk>/back/", upkeep_papers.key_back, name="upkeep_key_back"),
    path("upkeep/readings/<int:pk>/", upkeep.reading, name="upkeep_reading"),
    path("upkeep/<int:pk>/", upkeep.task, name="upkeep_task"),
    path("relays/", relays.relay_list, name="list"),
    path("relays/<slug:slug>/", relays.relay_page, name="page"),
]
