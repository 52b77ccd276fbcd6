"""Nets, sessions and the rota in the office."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from clubops.members.permissions import Reader
from nets import schedule
from nets.forms import DutyForm, NetForm
from nets.models import Absence, Duty, FeedKey, Net, Refusal, RotaDraft, Session, SwapOffer, TurnWish


@admin.register(Net)
class NetAdmin(admin.ModelAdmin):
    form = NetForm
    list_display = ["name", "in_words", "zone", "relay", "simplex_mhz", "manager", "is_active"]
    list_filter = ["is_active", "relay"]
    search_fields = ["name", "description"]
    list_select_related = ["relay", "manager"]
    autocomplete_fields = ["relay", "manager"]
    prepopulated_fields = {"slug": ["name"]}
    actions = ["plan_sessions"]
    fieldsets = [
        (
            None,
            {"fields": [("name", "slug"), "description", ("relay", "simplex_mhz"), "manager", "is_active"]},
        ),
        ("When", {"fields": ["rule", ("first_date", "ends_on"), ("start_time", "zone"), "duration_min"]}),
        ("Who may take the chair", {"fields": [("minimum_margin_db", "minimum_probability")]}),
        ("Script", {"fields": ["script"]}),
    ]

    def save_model(self, request: HttpRequest, obj: Net, form: forms.ModelForm, change: bool) -> None:
        super().save_model(request, obj, form, change)
        schedule.plan_sessions(obj, now=timezone.now())

    @admin.action(description="Plan the coming sessions of the chosen nets", permissions=["change"])
    def plan_sessions(self, request: HttpRequest, chosen: QuerySet[Net]) -> None:
        made = sum(schedule.plan_sessions(net, now=timezone.now()).made for net in chosen)
        self.message_user(request, f"{made} sessions added.", messages.SUCCESS)


class DutyInline(admin.TabularInline):
    model = Duty
    extra = 0
    can_delete = True
    fields = ["role", "member", "station", "state", "overrule_reason"]
    readonly_fields = ["role", "member", "station", "state", "overrule_reason"]
    show_change_link = True

    def has_add_permission(self, request: HttpRequest, obj: Session | None = None) -> bool:
        return False  # duties are given on their own form, where the path is checked


@admin.register(Session)
class SessionAdmin(admin.ModelAdmin):
    list_display = ["net", "starts_at", "state", "relay", "note"]
    list_filter = ["state", "net"]
    date_hierarchy = "starts_at"
    search_fields = ["net__name", "note"]
    list_select_related = ["net", "relay"]
    autocomplete_fields = ["net", "relay"]
    inlines = [DutyInline]
    actions = ["call_off", "restore"]
    fields = ["net", "occurrence_date", "moved_to", "relay", "state", "note", "starts_at", "ends_at"]
    readonly_fields = ["starts_at", "ends_at"]

    def save_model(self, request: HttpRequest, obj: Session, form: forms.ModelForm, change: bool) -> None:
        schedule.amend(obj)

    @admin.action(description="Call off the chosen sessions", permissions=["change"])
    def call_off(self, request: HttpRequest, chosen: QuerySet[Session]) -> None:
        done = sum(schedule.call_off(session, note="Called off by the net manager.") for session in chosen)
        self.message_user(request, f"{done} sessions called off.", messages.SUCCESS)

    @admin.action(description="Put the chosen sessions back", permissions=["change"])
    def restore(self, request: HttpRequest, chosen: QuerySet[Session]) -> None:
        done = sum(schedule.restore(session) for session in chosen)
        self.message_user(request, f"{done} sessions put back.", messages.SUCCESS)


@admin.register(Duty)
class DutyAdmin(admin.ModelAdmin):
    form = DutyForm
    list_display = ["session", "role", "member", "station_name", "state", "is_locked", "overrule_reason"]
    list_filter = ["role", "state", "session__net"]
    search_fields = ["member__call_sign", "member__name", "session__net__name"]
    list_select_related = ["session__net", "member", "station"]
    autocomplete_fields = ["session", "member"]
    fields = ["session", "role", "member", "station", "is_locked", "overrule_reason", "overruled_by"]
    readonly_fields = ["overruled_by"]

    def get_form(self, request: HttpRequest, *args: Any, **kwargs: Any) -> type[forms.ModelForm]:
        form = super().get_form(request, *args, **kwargs)
        reader = Reader(request.user)
        # A new class a request: the officer is a fact of this request, not of the form.
        return type(
            form.__name__, (form,), {"overruling_officer": reader.member if reader.is_officer else None}
        )

    @admin.display(description="from")
    def station_name(self, duty: Duty) -> str:
        return duty.station.name if duty.station else "-"


@admin.register(Absence)
class AbsenceAdmin(admin.ModelAdmin):
    list_display = ["member", "first_date", "last_date", "note"]
    search_fields = ["member__call_sign", "member__name"]
    autocomplete_fields = ["member"]


@admin.register(FeedKey)
class FeedKeyAdmin(admin.ModelAdmin):
    list_display = ["member", "created_at", "revoked_at"]
    list_select_related = ["member"]
    fields = ["member", "created_at", "revoked_at"]
    readonly_fields = ["member", "created_at"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False


@admin.register(TurnWish)
class TurnWishAdmin(admin.ModelAdmin):
    list_display = ["member", "most_turns", "minimum_gap_days"]
    list_select_related = ["member"]
    search_fields = ["member__call_sign", "member__name"]
    autocomplete_fields = ["member"]


@admin.register(Refusal)
class RefusalAdmin(admin.ModelAdmin):
    """Remove one to let the rota ask that person again."""

    list_display = ["session", "member", "made_at"]
    list_select_related = ["session__net", "member"]
    search_fields = ["member__call_sign", "session__net__name"]
    autocomplete_fields = ["session", "member"]


class Record(admin.ModelAdmin):
    """Rows that are made and settled on their own pages: to be looked at here, not changed."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(RotaDraft)
class RotaDraftAdmin(Record):
    list_display = ["made_at", "net", "weeks", "made_by", "state", "settled_at"]
    list_filter = ["state", "net"]
    list_select_related = ["net", "made_by"]
    exclude = ["facts"]


@admin.register(SwapOffer)
class SwapOfferAdmin(Record):
    list_display = ["session", "role", "offered_by", "offered_to", "state", "taken_by", "expires_at"]
    list_filter = ["state"]
    list_select_related = ["session__net", "offered_by", "offered_to", "taken_by"]
    search_fields = ["offered_by__call_sign", "session__net__name"]
