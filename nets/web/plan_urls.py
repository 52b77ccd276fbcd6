"""Addresses of planning, under nets/. The words among them are no net's (`nets.forms.net.RESERVED`)."""

from django.urls import path

from nets.web import plan

urlpatterns = [
    path("new/", plan.new_net, name="new_net"),
    path("conflicts/", plan.conflicts_page, name="conflicts"),
    path("<slug:slug>/edit/", plan.edit_net, name="edit_net"),
    path("<slug:slug>/extra/", plan.extra_session, name="extra_session"),
    path("<slug:slug>/<str:date>/change/", plan.change_session, name="change_session"),
]
