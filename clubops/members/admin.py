"""The roster in the office."""

from __future__ import annotations

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest

from clubops.members.licences import LicenceClass, Privilege
from clubops.members.models import Member, User
from clubops.members.segments import overlaps
from clubops.sentences import PlainSentences

admin.site.register(User, UserAdmin)


class OfficeMemberForm(PlainSentences, forms.ModelForm):
    """Anybody on the roster."""

    class Meta:
        model = Member
        fields = "__all__"  # noqa: DJ007  the admin page lists its fields itself
        error_messages = {"call_sign": {"unique": "Somebody with this call sign is on the roster already."}}


class PrivilegeForm(PlainSentences, forms.ModelForm):
    """One stretch of a class."""

    class Meta:
        model = Privilege
        fields = ["low_mhz", "high_mhz", "most_power_w", "operation"]
        widgets = {
            name: forms.TextInput(attrs={"size": 10, "inputmode": "decimal"})
            for name in ("low_mhz", "high_mhz", "most_power_w")
        }


class PrivilegeRows(forms.BaseInlineFormSet):
    """The stretches of a class, none over another."""

    def clean(self) -> None:
        super().clean()
        given = [form for form in self.forms if form.is_valid() and "low_mhz" in form.cleaned_data]
        kept = [form.instance.segment for form in given if not form.cleaned_data.get("DELETE")]
        if wrong := overlaps(kept):
            raise ValidationError(wrong)


class PrivilegeInline(admin.TabularInline):
    model = Privilege
    form = PrivilegeForm
    formset = PrivilegeRows
    extra = 1
    verbose_name = "stretch"
    verbose_name_plural = "what it allows, for voice"


class LicenceClassForm(PlainSentences, forms.ModelForm):
    """A class of licence."""

    class Meta:
        model = LicenceClass
        fields = ["name", "order", "note"]
        error_messages = {"name": {"unique": "There is a class of this name already; change that one."}}


@admin.register(LicenceClass)
class LicenceClassAdmin(admin.ModelAdmin):
    form = LicenceClassForm
    list_display = ["name", "order", "allows", "holders", "note"]
    search_fields = ["name"]
    inlines = [PrivilegeInline]
    fieldsets = [
        (
            None,
            {
                "fields": [("name", "order"), "note"],
                "description": "Copy from your own country's rules: no table is delivered, and the licence decides. "
                "A class with no stretch is unknown and stops nobody; one with a stretch is taken to be complete.",
            },
        )
    ]

    def get_queryset(self, request: HttpRequest) -> QuerySet[LicenceClass]:
        return super().get_queryset(request).prefetch_related("privileges", "members")

    @admin.display(description="allows")
    def allows(self, licence_class: LicenceClass) -> str:
        return allowed_in_words(licence_class)

    @admin.display(description="on the roster")
    def holders(self, licence_class: LicenceClass) -> int:
        return len(licence_class.members.all())


def allowed_in_words(licence_class: LicenceClass | None) -> str:
    """Every stretch of a class with its power and freedom."""
    if licence_class is None:
        return "unknown: no class is recorded"
    rows = licence_class.segments
    if not rows:
        return "unknown: nothing is written down for this class"
    return "; ".join(each.sentence for each in rows)


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
    readonly_fields = ["allows"]
    list_select_related = ["licence_class"]
    fieldsets = [
        (None, {"fields": [("call_sign", "name"), ("email", "email_problem"), "user", "is_active"]}),
        ("Licence", {"fields": [("licence_class", "licence_expires_on"), "allows", "joined_on"]}),
        (
            "Nets",
            {"fields": [("takes_the_chair", "is_experienced", "willingness"), ("wants_reminders", "zone")]},
        ),
    ]

    @admin.display(description="stations")
    def station_count(self, member: Member) -> int:
        return len(member.stations.all())

    @admin.display(description="what the class allows")
    def allows(self, member: Member) -> str:
        return allowed_in_words(member.licence_class)
