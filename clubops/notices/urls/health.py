"""The address a monitor asks, outside the namespace of the pages."""

from django.urls import path

from clubops.notices import views

urlpatterns = [path("health/", views.health, name="health")]
