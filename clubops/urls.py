"""The address book of the site; each app keeps its own page of it."""

from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import include, path

urlpatterns = [
    path("members/", include("clubops.members.urls")),
    path("", include("relays.urls")),
    path("", include("nets.urls")),
    path("login/", auth_views.LoginView.as_view(), name="login"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("office/", admin.site.urls),
]
