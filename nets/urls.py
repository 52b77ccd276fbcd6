"""Addresses of the nets' pages."""

from django.urls import include, path

from nets.web import answer, feeds, home, mine, my_calendar, outages, schedule, start

app_name = "nets"
urlpatterns = [
    path("", home.home, name="home"),
    path("start/", start.start, name="start"),
    path("start/card/", start.card, name="card"),
    path("nets/", schedule.net_list, name="list"),
    path("nets/", include("nets.web.plan_urls")),
    path("nets/<slug:slug>/", schedule.net_page, name="page"),
    path("nets/", include("nets.web.log_urls")),
    path("nets/<slug:slug>/<str:date>/", schedule.session_page, name="session"),
    path("nets/<slug:slug>/<str:date>/<str:role>/", schedule.chair, name="chair"),
    path("my-duties/", mine.my_duties, name="my_duties"),
    path("my-duties/calendar/", my_calendar.new_calendar_address, name="new_calendar_address"),
    path("my-duties/calendar/alarm/", my_calendar.calendar_alarm, name="calendar_alarm"),
    path("my-duties/absences/<int:pk>/remove/", mine.remove_absence, name="remove_absence"),
    path("my-duties/<int:pk>/answer/", mine.answer, name="answer"),
    path("my-duties/<int:pk>/station/", mine.station, name="duty_station"),
    path("", include("nets.web.rota_urls")),
    path("outages/", outages.outage_list, name="outages"),
    path("outages/new/", outages.new_outage, name="new_outage"),
    path("outages/<int:pk>/", outages.outage_page, name="outage"),
    path("outages/<int:pk>/edit/", outages.edit_outage, name="edit_outage"),
    path("outages/<int:pk>/end/", outages.end_outage, name="end_outage"),
    path("outages/<int:pk>/call-off/", outages.call_off_outage, name="call_off_outage"),
    path("duties/answer/<str:token>/", answer.answer_by_link, name="answer_by_link"),
    path("calendars/", feeds.index, name="calendars"),
    path("calendars/", include("nets.web.calendar_urls")),
    path("robots.txt", feeds.robots, name="robots"),
]
