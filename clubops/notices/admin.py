"""What went out, what failed, what is due: the ledger in the office."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.contrib import admin, messages
from django.contrib.admin.views.main import ChangeList
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from clubops.members.permissions import Reader
from clubops.notices import health, kinds, outbox
from clubops.notices.models import Notice
from clubops.notices.tasks import send_due
from clubops.notices.templatetags.ledger import short_time
from clubops.templatetags.measures import wall_time
from clubops.wake import wake

State = Notice.State


class WhereaboutsFilter(admin.SimpleListFilter):
    """The questions an officer comes with. Unasked, the week behind and the week ahead: a rota fills years."""

    title = "what of it"
    parameter_name = "what"

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        return [
            ("due", "due now"),
            ("soon", "due in the coming 7 days"),
            ("out", "went out in the last 7 days"),
            ("not", "did not arrive"),
            ("all", "everything"),
        ]

    def choices(self, changelist: ChangeList) -> Iterator[Any]:
        first, *others = super().choices(changelist)
        yield {**first, "display": "this week and the last"}
        yield from others

    def queryset(self, request: HttpRequest, queryset: QuerySet[Notice]) -> QuerySet[Notice]:
        now, week = timezone.now(), dt.timedelta(days=7)
        open_ones = Q(state__in=[State.WAITING, State.CLAIMED])
        chosen = {
            "due": open_ones & Q(next_try_at__lte=now),
            "soon": open_ones & Q(next_try_at__gt=now, next_try_at__lte=now + week),
            "out": Q(state=State.SENT, sent_at__gt=now - week),
            "not": Q(state__in=[State.FAILED, State.MISSED]),
        }.get(self.value() or "")
        if chosen is None and not (self.value() or request.GET):
            chosen = Q(due_at__gt=now - week, due_at__lte=now + week)
        return queryset if chosen is None else queryset.filter(chosen)


class KindFilter(admin.SimpleListFilter):
    """The kinds that are in the ledger, in words."""

    title = "kind"
    parameter_name = "kind"

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        names = Notice.objects.order_by("kind").values_list("kind", flat=True).distinct()
        return [(name, kinds.words(name)) for name in names]

    def queryset(self, request: HttpRequest, queryset: QuerySet[Notice]) -> QuerySet[Notice]:
        return queryset.filter(kind=self.value()) if self.value() else queryset


@admin.register(Notice)
class NoticeAdmin(admin.ModelAdmin):
    """To look at, and to send again what was not sent. Nothing is typed here: rules write the ledger."""

    list_display = ["title", "call_sign", "kind_words", "due", "outcome", "error"]
    list_filter = [WhereaboutsFilter, "state", KindFilter]
    search_fields = ["title", "key", "message_id", "recipient__call_sign", "recipient__name"]
    date_hierarchy = "due_at"
    list_select_related = ["recipient"]
    list_per_page = 50
    ordering = ["-due_at", "pk"]
    actions = ["send_again"]
    change_list_template = "admin/notices/notice/change_list.html"
    fieldsets = [
        (None, {"fields": ["title", "recipient", "kind_words", "state", "error"]}),
        ("When", {"fields": ["due", "too_late_after", "next_try", "sent"]}),
        (
            "In detail",
            {
                "fields": [
                    "attempts",
                    "carried_by",
                    "report",
                    "resent_at",
                    "message_id",
                    "key",
                    "claimed_at",
                    "told",
                ]
            },
        ),
    ]

    def get_ordering(self, request: HttpRequest) -> list[Any]:
        """What is still to come begins with what comes next."""
        return ["due_at", "pk"] if request.GET.get("what") in {"due", "soon"} else ["-due_at", "pk"]

    def get_readonly_fields(self, request: HttpRequest, obj: Notice | None = None) -> list[str]:
        return [str(name) for _title, options in self.fieldsets for name in options["fields"]]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Notice | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Notice | None = None) -> bool:
        return False  # a ledger from which pages can be torn proves nothing

    def has_resend_permission(self, request: HttpRequest) -> bool:
        return Reader(request.user).manages_nets

    @admin.action(description="Send the chosen notices again, if they did not arrive", permissions=["resend"])
    def send_again(self, request: HttpRequest, chosen: QuerySet[Notice]) -> None:
        again = outbox.resend(chosen, now=timezone.now())
        wake(send_due)
        if again:
            self.message_user(request, f"{again} will be tried again within a minute.", messages.SUCCESS)
        if left := chosen.count() - again:
            self.message_user(
                request,
                f"{left} stay as they are: only what failed or was missed is sent again, nothing past.",
                messages.WARNING,
            )

    def changelist_view(
        self, request: HttpRequest, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        context = {
            "title": "What went out, what failed, what is due",
            "health": health.look(now=timezone.now()),
            "club_zone": settings.CLUB_ZONE,
        }
        return super().changelist_view(request, context | (extra_context or {}))

    @admin.display(description="to", ordering="recipient__call_sign")
    def call_sign(self, notice: Notice) -> str:
        return notice.recipient.call_sign

    @admin.display(description="kind", ordering="kind")
    def kind_words(self, notice: Notice) -> str:
        return kinds.words(notice.kind)

    @admin.display(description="due", ordering="due_at")
    def due(self, notice: Notice) -> str:
        return short_time(notice.due_at, settings.CLUB_ZONE)

    @admin.display(description="sent", ordering="sent_at", empty_value="")
    def sent(self, notice: Notice) -> str | None:
        return short_time(notice.sent_at, settings.CLUB_ZONE) if notice.sent_at else None

    @admin.display(description="what came of it", ordering="state")
    def outcome(self, notice: Notice) -> str:
        words = notice.get_state_display()
        if notice.sent_at:
            return f"{words} {short_time(notice.sent_at, settings.CLUB_ZONE)}"
        return f"{words}, tried {notice.attempts} times" if notice.attempts > 1 else words

    @admin.display(description="next try")
    def next_try(self, notice: Notice) -> str:
        return wall_time(notice.next_try_at, settings.CLUB_ZONE) if notice.is_open else "none"

    @admin.display(description="too late after")
    def too_late_after(self, notice: Notice) -> str:
        return wall_time(notice.not_after, settings.CLUB_ZONE)
