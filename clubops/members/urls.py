"""Addresses of a member's own pages."""

from django.urls import path

from clubops.members import views

app_name = "members"
urlpatterns = [path("me/", views.me, name="me")]
