"""The roster in the office."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from clubops.members.models import Member, User

admin.site.register(User, UserAdmin)


@admin.register(Member)
class MemberAdmin(admin.ModelAdmin):
    list_display = [
        "call_sign",
        "name",
        "licence_class",
        "licence_expires_on",
        "takes_the_chair",
        "station_count",
    ]
    list_filter = ["is_active", "takes_the_chair", "is_experienced", "licence_class"]
    search_fields = ["call_sign", "name", "email"]
    date_hierarchy = "joined_on"
    autocomplete_fields = ["user"]
    fieldsets = [
        (None, {"fields": [("call_sign", "name"), ("email", "email_problem"), "user", "is_active"]}),
        ("Licence", {"fields": [("licence_class", "licence_expires_on"), "joined_on"]}),
        (
            "Nets",
            {"fields": [("takes_the_chair", "is_experienced", "willingness"), ("wants_reminders", "zone")]},
        ),
    ]

    @admin.display(description="stations")
    def station_count(self, member: Member) -> int:
        return len(member.stations.all())
