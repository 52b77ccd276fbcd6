"""Addresses of the log, the report and what they add up to, under nets/."""

from django.urls import path

from nets.web import log, log_import, log_sync, report

SESSION = "<slug:slug>/<str:date>/"

urlpatterns = [
    path("<slug:slug>/statistics/", report.statistics_page, name="statistics"),
    path(f"{SESSION}log/", log.log_page, name="log"),
    path(f"{SESSION}log/state/", log.log_state, name="log_state"),
    path(f"{SESSION}log/roll/", log.log_roll, name="log_roll"),
    path(f"{SESSION}log/entries/", log_sync.log_entries, name="log_entries"),
    path(f"{SESSION}log/names/", log_sync.log_names, name="log_names"),
    path(f"{SESSION}log/worker.js", log_sync.log_worker, name="log_worker"),
    path(f"{SESSION}log/import/", log_import.log_import, name="log_import"),
    path(f"{SESSION}log/entry/<uuid:key>/", log.log_entry, name="log_entry"),
    path(f"{SESSION}report/", report.report_page, name="report"),
    path(f"{SESSION}report/comms-log/", report.comms_log_page, name="comms_log"),
    path(f"{SESSION}report/log.<str:kind>", report.report_file, name="report_file"),
]
