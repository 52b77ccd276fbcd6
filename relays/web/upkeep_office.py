"""Upkeep in the office: tasks, what was done, meters, papers and keys."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from clubops.members.permissions import Reader
from clubops.sentences import PlainSentences
from clubops.wake import wake
from relays import tasks
from relays.models import KeyHolder, Reading, ReadingKind, Renewal, UpkeepRecord, UpkeepTask
from relays.upkeep import due, hazards, records, rhythm

A_WEEK_DAYS = 7


class TaskForm(PlainSentences, forms.ModelForm):
    """A task, its hazards as boxes to tick."""

    hazards = forms.MultipleChoiceField(
        choices=hazards.CHOICES,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Each shows its caution on the task’s page and in every reminder.",
    )

    class Meta:
        model = UpkeepTask
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself


class ReadingKindForm(PlainSentences, forms.ModelForm):
    class Meta:
        model = ReadingKind
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself


class RenewalForm(PlainSentences, forms.ModelForm):
    class Meta:
        model = Renewal
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself


class ReadingKindInline(admin.TabularInline):
    model = ReadingKind
    form = ReadingKindForm
    extra = 0
    fields = ["name", "unit", "low", "high", "is_active"]


@admin.register(UpkeepTask)
class UpkeepTaskAdmin(admin.ModelAdmin):
    form = TaskForm
    list_display = ["name", "where_it_is", "due_on", "how_often", "responsible", "stand_in", "is_active"]
    list_filter = ["is_active", "rhythm", "site", "relay"]
    search_fields = ["name", "site__name", "relay__name", "responsible__call_sign"]
    list_select_related = ["site", "relay__site", "responsible", "stand_in"]
    autocomplete_fields = ["site", "relay"]
    actions = ["done_today", "a_week_later"]
    inlines = [ReadingKindInline]
    fieldsets = [
        (None, {"fields": [("site", "relay"), "name", "instructions", "is_active"]}),
        ("When", {"fields": [("rhythm", "every"), "fixed_dates", ("first_due_on", "postponed_to")]}),
        ("Who", {"fields": [("responsible", "stand_in"), "lead_days"]}),
        (
            "Cautions",
            {
                "fields": ["hazards"],
                "description": "Local codes, the law and licensed practice decide; the cautions only remind.",
            },
        ),
    ]

    @admin.display(description="where")
    def where_it_is(self, task: UpkeepTask) -> str:
        return task.where

    @admin.display(description="due")
    def due_on(self, task: UpkeepTask) -> str:
        standing = due.standing_of(task, today=due.club_day(timezone.now()))
        return f"{standing.due_on:%Y-%m-%d} ({standing.words})" if task.is_active else "laid to rest"

    @admin.display(description="how often")
    def how_often(self, task: UpkeepTask) -> str:
        return rhythm.in_words(task.plan)

    @admin.action(description="Write the chosen tasks down as done today", permissions=["change"])
    def done_today(self, request: HttpRequest, chosen: QuerySet[UpkeepTask]) -> None:
        made = records.mark_done_today(chosen, by=Reader(request.user).member, now=timezone.now())
        wake(tasks.plan_upkeep)
        self.message_user(
            request, f"{made} written down; those with a record of today stay as they are.", messages.SUCCESS
        )

    @admin.action(description="Put the chosen tasks off by a week", permissions=["change"])
    def a_week_later(self, request: HttpRequest, chosen: QuerySet[UpkeepTask]) -> None:
        moved = due.shift(chosen, days=A_WEEK_DAYS, today=due.club_day(timezone.now()))
        wake(tasks.plan_upkeep)
        self.message_user(request, f"{moved} put off by a week.", messages.SUCCESS)


class ReadingInline(admin.TabularInline):
    model = Reading
    extra = 0
    fields = ["kind", "value", "at", "by"]


@admin.register(UpkeepRecord)
class UpkeepRecordAdmin(admin.ModelAdmin):
    """To put right what was written down wrongly; new ones are written on the task’s page."""

    list_display = ["task", "done_on", "by", "was_due_on"]
    list_filter = ["task"]
    date_hierarchy = "done_on"
    search_fields = ["task__name", "notes", "by__call_sign"]
    list_select_related = ["task__site", "task__relay", "by"]
    fields = ["task", "done_on", "by", "notes", "was_due_on"]
    readonly_fields = ["task", "was_due_on"]
    inlines = [ReadingInline]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False


@admin.register(Reading)
class ReadingAdmin(admin.ModelAdmin):
    list_display = ["kind", "value", "at", "by"]
    list_filter = ["kind"]
    date_hierarchy = "at"
    list_select_related = ["kind__task__site", "kind__task__relay", "by"]
    fields = ["kind", "value", "at", "by"]
    readonly_fields = ["kind"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False


@admin.register(Renewal)
class RenewalAdmin(admin.ModelAdmin):
    form = RenewalForm
    list_display = ["name", "kind", "site", "relay", "expires_on", "responsible", "is_active"]
    list_filter = ["kind", "is_active"]
    search_fields = ["name", "notes"]
    list_select_related = ["site", "relay", "responsible"]
    autocomplete_fields = ["site", "relay"]


@admin.register(KeyHolder)
class KeyHolderAdmin(admin.ModelAdmin):
    list_display = ["key", "site", "member", "given_on", "returned_on"]
    list_filter = ["site", ("returned_on", admin.EmptyFieldListFilter)]
    search_fields = ["key", "member__call_sign", "member__name"]
    list_select_related = ["site", "member"]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return Reader(request.user).is_officer
