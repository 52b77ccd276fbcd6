"""Nets, sessions and the rota in the office."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, ClassVar

from django import forms
from django.contrib import admin, messages
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest
from django.utils import timezone

from clubops import clock
from clubops.members.permissions import Reader
from clubops.templatetags.measures import zone_words
from nets import departures, rule_changes, schedule
from nets.forms import DutyForm, NetForm, OfficeSessionForm
from nets.models import (
    Absence,
    CheckIn,
    Correction,
    Duty,
    FeedKey,
    Net,
    Refusal,
    RotaDraft,
    Session,
    SessionLog,
    SwapOffer,
    TurnWish,
)


def _own_time(session: Session) -> str:
    """When a session is by the net's own clock, short enough for a column."""
    wall = clock.to_wall(session.starts_at, session.net.zone)
    return f"{wall:%a} {wall.day} {wall:%b %Y} {wall:%H:%M}, {zone_words(session.net.zone)}"


class ComingOrPast(admin.SimpleListFilter):
    """Coming ones unless past or all are asked for: a list that opens three years back helps nobody."""

    title = "when"
    parameter_name = "when"
    ends_at = "ends_at"
    words: ClassVar = {"coming": "coming", "past": "past", "all": "all"}

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        return list(self.words.items())

    def choices(self, changelist: Any) -> Iterator[Any]:
        chosen = self.value() or "coming"
        for key, words in self.words.items():
            query = changelist.get_query_string({self.parameter_name: key})
            yield {"selected": key == chosen, "query_string": query, "display": words}

    def queryset(self, request: HttpRequest, rows: QuerySet[Any]) -> QuerySet[Any]:
        chosen, now = self.value() or "coming", timezone.now()
        if chosen == "all":
            return rows
        return rows.filter(**{f"{self.ends_at}__{'gt' if chosen == 'coming' else 'lte'}": now})


class ComingOrPastDuties(ComingOrPast):
    ends_at = "session__ends_at"


@admin.register(Net)
class NetAdmin(admin.ModelAdmin):
    form = NetForm
    list_display = ["name", "meets", "zone", "relay", "simplex_mhz", "manager", "is_active"]
    list_filter = ["is_active", "relay"]
    search_fields = ["name", "description"]
    list_select_related = ["relay", "manager"]
    prepopulated_fields = {"slug": ["name"]}
    actions = ["plan_sessions"]
    fieldsets = [
        (
            None,
            {
                "fields": [("name", "slug"), "description", "manager", "is_active"],
                "description": "The club's own page of a net has the same form and shows the next dates first.",
            },
        ),
        ("Where", {"fields": [("relay", "simplex_mhz")]}),
        (
            "When",
            {
                "fields": [
                    "pattern", "every", "days", "ordinals", "month_days", "months", "rule",
                    ("start_time", "duration_min"), "zone", ("first_date", "ends_on"),
                ],
                "description": "Choose how it meets; what belongs to another way of meeting is left out of account.",
            },
        ),
        ("Who may take the chair", {"fields": [("minimum_margin_db", "minimum_probability")]}),
        ("Guests", {"fields": [("guest_of", "guest_class")]}),
        ("Script", {"fields": ["script"]}),
        ("Before it is saved", {"fields": ["agree"]}),
    ]  # fmt: skip

    def get_queryset(self, request: HttpRequest) -> QuerySet[Net]:
        return super().get_queryset(request).prefetch_related("earlier_rules")

    @admin.display(description="meets")
    def meets(self, net: Net) -> str:
        return schedule.in_words(net, now=timezone.now())

    def save_model(self, request: HttpRequest, obj: Net, form: forms.ModelForm, change: bool) -> None:
        assert isinstance(form, NetForm)
        rule_changes.adopt(obj, now=timezone.now(), found=form.succession)

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
    form = OfficeSessionForm
    list_display = ["net", "when", "state", "where", "in_the_chair", "note"]
    list_filter = [ComingOrPast, "state", "net"]
    date_hierarchy = "starts_at"
    search_fields = ["net__name", "note"]
    list_select_related = ["net__relay", "relay", "earlier_rule__relay"]
    inlines = [DutyInline]
    actions = ["call_off", "put_back"]
    readonly_fields = ["when"]
    fieldsets = [
        (
            None,
            {
                "fields": [("net", "occurrence_date"), "when", ("moved_date", "moved_time"), "relay"],
                "description": "Sessions come from the net's rule by themselves. Change one here, or add one on a date "
                "that the rule does not give.",
            },
        ),
        ("Called off?", {"fields": ["state", "note"]}),
    ]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Session]:
        held = Duty.objects.exclude(state=Duty.State.DECLINED).select_related("member")
        return super().get_queryset(request).prefetch_related(Prefetch("duties", queryset=held))

    @admin.display(description="when", ordering="starts_at")
    def when(self, session: Session) -> str:
        return _own_time(session) if session.pk else "by the rule, once it is saved"

    @admin.display(description="where")
    def where(self, session: Session) -> str:
        relay = session.relay_in_use
        name = relay.name if relay else f"{session.terms.simplex_mhz:.3f} MHz"
        return f"{name}, this once" if session.relay_id else name

    @admin.display(description="in the chair")
    def in_the_chair(self, session: Session) -> str:
        return ", ".join(duty.member.call_sign for duty in session.duties.all()) or "nobody"

    def save_model(self, request: HttpRequest, obj: Session, form: forms.ModelForm, change: bool) -> None:
        schedule.amend(obj)

    @admin.action(description="Call off the chosen sessions", permissions=["change"])
    def call_off(self, request: HttpRequest, chosen: QuerySet[Session]) -> None:
        self._each(
            request, chosen, "called off", departures.call_off, reason="Called off by the net manager."
        )

    @admin.action(description="Put the chosen sessions back", permissions=["change"])
    def put_back(self, request: HttpRequest, chosen: QuerySet[Session]) -> None:
        self._each(request, chosen, "put back", departures.put_back)

    def _each(
        self,
        request: HttpRequest,
        chosen: QuerySet[Session],
        words: str,
        verb: Callable[..., Session],
        **values: str,
    ) -> None:
        done = 0
        for session in chosen:
            try:
                verb(session, now=timezone.now(), **values)
                done += 1
            except departures.DepartureRefused as refusal:
                self.message_user(request, f"{session}: {refusal}", messages.ERROR)
        if done:
            self.message_user(request, f"{done} session{'' if done == 1 else 's'} {words}.", messages.SUCCESS)


@admin.register(Duty)
class DutyAdmin(admin.ModelAdmin):
    form = DutyForm
    list_display = ["net", "when", "role", "member", "station_name", "state", "is_locked", "overrule_reason"]
    list_display_links = ["net", "when"]
    list_filter = [ComingOrPastDuties, "role", "state", "session__net"]
    search_fields = ["member__call_sign", "member__name", "session__net__name"]
    list_select_related = ["session__net", "member", "station"]
    fields = ["session", "role", "member", "station", "is_locked", "overrule_reason", "overruled_by"]
    readonly_fields = ["overruled_by"]

    def get_form(self, request: HttpRequest, *args: Any, **kwargs: Any) -> type[forms.ModelForm]:
        form = super().get_form(request, *args, **kwargs)
        reader = Reader(request.user)
        # A new class a request: the officer is a fact of this request, not of the form.
        return type(
            form.__name__, (form,), {"overruling_officer": reader.member if reader.is_officer else None}
        )

    @admin.display(description="net", ordering="session__net__name")
    def net(self, duty: Duty) -> str:
        return duty.session.net.name

    @admin.display(description="when", ordering="session__starts_at")
    def when(self, duty: Duty) -> str:
        return _own_time(duty.session)

    @admin.display(description="from")
    def station_name(self, duty: Duty) -> str:
        return duty.station.name if duty.station else "-"


@admin.register(Absence)
class AbsenceAdmin(admin.ModelAdmin):
    list_display = ["member", "first_date", "last_date", "note"]
    search_fields = ["member__call_sign", "member__name"]
    list_select_related = ["member"]


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


class Kept(Record):
    """Rows of a log: struck out on the log page, never deleted."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(CheckIn)
class CheckInAdmin(Kept):
    list_display = ["call_sign", "session", "heard_at", "path_words", "traffic", "is_struck", "logged_by"]
    list_filter = ["session__net", "traffic", "via", "is_struck", "is_after_closing"]
    list_select_related = ["session__net", "relay"]
    date_hierarchy = "heard_at"
    search_fields = ["call_sign", "name", "place", "notes"]
    exclude = ["station"]


@admin.register(Correction)
class CorrectionAdmin(Kept):
    list_display = ["check_in", "number", "made_by", "made_at", "is_after_closing"]
    list_filter = ["is_after_closing"]
    list_select_related = ["check_in__session__net"]
    search_fields = ["check_in__call_sign", "made_by"]


@admin.register(SessionLog)
class SessionLogAdmin(Kept):
    """Who was net control in the end, and the remark, may be put right here; the rest is what happened."""

    list_display = ["session", "net_control", "opened_at", "closed_at"]
    list_filter = ["session__net"]
    list_select_related = ["session__net", "net_control"]
    autocomplete_fields = ["net_control"]
    fields = ["session", "net_control", "remark", "opened_at", "opened_by", "closed_at", "closed_by"]
    readonly_fields = ["session", "opened_at", "opened_by", "closed_at", "closed_by"]

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return admin.ModelAdmin.has_change_permission(self, request, obj)
