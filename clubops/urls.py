"""The address book of the site; each app keeps its own page of it."""

from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import include, path
from django.views.generic import TemplateView

admin.site.index_title = "What the officers and stewards look after"

urlpatterns = [
    path("members/", include("clubops.members.urls")),
    path("notices/", include("clubops.notices.urls")),
    path("", include("clubops.notices.urls.health")),
    path("", include("relays.urls")),
    path("", include("nets.urls")),
    path("login/", auth_views.LoginView.as_view(), name="login"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path(
        "password/",
        auth_views.PasswordChangeView.as_view(template_name="registration/new_password.html"),
        name="password_change",
    ),
    path(
        "password/changed/",
        auth_views.PasswordChangeDoneView.as_view(template_name="registration/new_password_done.html"),
        name="password_change_done",
    ),
    path("cautions/", TemplateView.as_view(template_name="cautions.html"), name="cautions"),
    path("office/", admin.site.urls),
]
