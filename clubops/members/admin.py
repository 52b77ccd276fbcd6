"""The roster in the office."""

from __future__ import annotations

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from clubops.members.models import Member, User
from clubops.sentences import PlainSentences

admin.site.register(User, UserAdmin)


class OfficeMemberForm(PlainSentences, forms.ModelForm):
    """Anybody on the roster."""

    class Meta:
        model = Member
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself
        error_messages = {"call_sign": {"unique": "Somebody with this call sign is on the roster already."}}


@admin.register(Member)
class MemberAdmin(admin.ModelAdmin):
    form = OfficeMemberForm
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
