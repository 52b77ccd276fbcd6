"""Addresses of the pages about notices."""

from django.urls import path

from clubops.notices import views

app_name = "notices"
urlpatterns = [
    path("", views.mine, name="mine"),
    path("stop/<str:token>/", views.unsubscribe, name="unsubscribe"),
]
