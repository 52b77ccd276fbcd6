"""Addresses of the calendars, below /calendars/; `shortcut` answers these before anything else does."""

from django.urls import path

from nets.web import feeds

WITH_ALARMS = {"alarms": True}

urlpatterns = [
    path("club.ics", feeds.club, name="club_feed"),
    path("nets/<slug:slug>.ics", feeds.net, name="net_feed"),
    path("relays/<slug:slug>.ics", feeds.relay, name="relay_feed"),
    path("mine/<slug:token>.ics", feeds.member, name="member_feed"),
    path("with-alarms/club.ics", feeds.club, WITH_ALARMS, name="club_feed_alarms"),
    path("with-alarms/nets/<slug:slug>.ics", feeds.net, WITH_ALARMS, name="net_feed_alarms"),
    path("with-alarms/relays/<slug:slug>.ics", feeds.relay, WITH_ALARMS, name="relay_feed_alarms"),
]
