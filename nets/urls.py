"""Addresses of the nets' pages."""

from django.urls import include, path

from nets.web import answer, feeds, home, mine, my_calendar, schedule, start

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
    path("", include("nets.web.rota_urls")),
    path("duties/answer/<str:token>/", answer.answer_by_link, name="answer_by_link"),
    path("calendars/", feeds.index, name="calendars"),
    path("calendars/", include("nets.web.calendar_urls")),
    path("robots.txt", feeds.robots, name="robots"),
]
