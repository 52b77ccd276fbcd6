"""The roster in the office."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db.models import Count, QuerySet
from django.http import HttpRequest

from clubops.members.models import Member, Station, User

admin.site.register(User, UserAdmin)


class StationInline(admin.StackedInline):
    model = Station
    extra = 0
    classes = ["collapse"]
    fieldsets = [
        (None, {"fields": [("name", "is_main"), ("latitude_deg", "longitude_deg"), ("noise_class", "building")]}),
        ("Radio", {"fields": [("power_w", "sensitivity_uv"), ("antenna_height_m", "antenna_gain_dbi", "body_loss_db")]}),
        ("Feedline", {"fields": [("feedline_kind", "feedline_length_m"), ("connectors", "antenna_swr")]}),
    ]


@admin.register(Member)
class MemberAdmin(admin.ModelAdmin):
    list_display = ["call_sign", "name", "licence_class", "licence_expires_on", "takes_the_chair", "station_count"]
    list_filter = ["is_active", "takes_the_chair", "is_experienced", "licence_class"]
    search_fields = ["call_sign", "name", "email"]
    date_hierarchy = "joined_on"
    autocomplete_fields = ["user"]
    inlines = [StationInline]
    fieldsets = [
        (None, {"fields": [("call_sign", "name"), ("email", "email_problem"), "user", "is_active"]}),
        ("Licence", {"fields": [("licence_class", "licence_expires_on"), "joined_on"]}),
        ("Nets", {"fields": [("takes_the_chair", "is_experienced", "willingness"), ("wants_reminders", "zone")]}),
    ]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Member]:
        return super().get_queryset(request).annotate(stations_held=Count("stations"))

    @admin.display(description="stations", ordering="stations_held")
    def station_count(self, member: Member) -> int:
        return member.stations_held


@admin.register(Station)
class StationAdmin(admin.ModelAdmin):
    list_display = ["member", "name", "is_main", "power_w", "antenna_height_m", "antenna_gain_dbi", "building"]
    list_filter = ["is_main", "building", "noise_class"]
    search_fields = ["member__call_sign", "member__name", "name"]
    autocomplete_fields = ["member"]
    list_select_related = ["member"]
