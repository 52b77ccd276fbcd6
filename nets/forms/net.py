"""A net, added or edited: on the club's own page and in the office."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import slugify

from clubops import clock
from clubops.members.models import Member, club_zone
from clubops.sentences import PlainSentences
from clubops.templatetags.measures import whole_date
from nets import conflicts, foretold, recurrence, rule_changes
from nets.forms.rule_choices import RuleChoices, choices_of
from nets.models import Net
from relays.forms import IN_MEGAHERTZ
from relays.models import Relay

# Words that are pages of their own beside the nets.
RESERVED = frozenset({"new", "conflicts", "rota", "statistics"})
# Fields of which any change is a change of the rule.
WHEN = (
    "pattern",
    "every",
    "days",
    "ordinals",
    "month_days",
    "months",
    "rule",
    "first_date",
    "start_time",
    "zone",
)
AGREE = "Read what saving would do; if that is right, tick the box and save again."


class ZoneInput(forms.TextInput):
    """A zone is typed, with the names of the tz database offered: four hundred are too many for a list."""

    template_name = "nets/plan_zone_input.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["widget"]["zone_names"] = clock.zone_names()
        context["widget"]["attrs"]["list"] = f"{context['widget']['attrs'].get('id', name)}_names"
        return context


class Agree(forms.CheckboxInput):
    """A box whose value names what is agreed to: a yes to something else is not a yes."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, check_test=lambda value: bool(value) and value == self.attrs.get("value"))

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return data.get(name, "")

    def format_value(self, value: Any) -> Any:
        return self.attrs.get("value", "")


def _date_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class NetForm(PlainSentences, RuleChoices, forms.ModelForm):
    """A net.

    Refused when it would meet another net on one channel; asks once before coming sessions or people are moved.
    Validate it inside the transaction that saves it: it holds the lock of the schedule. `foretold` is what
    saving would do, or None where something is wrong; a page that shows it by itself says so (`shows_outcome`).
    """

    duration_min = forms.IntegerField(
        min_value=5, max_value=720, initial=60, label="It lasts, in minutes", help_text="5 to 720."
    )
    agree = forms.CharField(
        required=False,
        widget=Agree,
        label="Yes, do that",
        help_text="Asked for only where saving changes coming sessions or duties.",
    )

    class Meta:
        model = Net
        fields = [
            "name", "slug", "description", "relay", "simplex_mhz", "first_date", "ends_on", "start_time", "zone",
            "duration_min", "rule", "manager", "minimum_margin_db", "minimum_probability", "script", "is_active",
            "guest_of", "guest_class",
        ]  # fmt: skip
        labels = {
            "start_time": "It starts at",
            "zone": "By the clocks of",
            "ends_on": "Last date",
            "simplex_mhz": "Or a simplex frequency, in MHz",
            "is_active": "The net is running",
            "minimum_margin_db": "Least margin, in dB",
            "minimum_probability": "Least chance of being heard, 0 to 1",
            "slug": "Its word in addresses",
            "manager": "Net manager",
            "guest_of": "Guests: another club or group whose net this is",
            "guest_class": "Licence class of their net control",
        }
        help_texts = {
            "name": "Such as Tuesday Ridge Net.",
            "slug": "Small letters, digits and hyphens. Left empty it is made from the name. Calendars are "
            "subscribed to by it, so keep it.",
            "description": "What it is for and who is welcome. Shown to everybody.",
            "relay": "Where it meets. Leave it empty for a simplex net.",
            "simplex_mhz": "Such as 146.550. Only when no relay is used.",
            "start_time": "Hours and minutes by that clock, such as 19:30.",
            "zone": "A zone by area and city, such as America/New_York. The net keeps this clock when it is "
            "put forward or back.",
            "ends_on": "The last date on which it may meet. Leave it empty if there is none.",
            "manager": "Who is told when a chair is in doubt.",
            "minimum_margin_db": "Asked of net control in both directions, −10 to 40. 6 is usual (common practice, "
            "no source).",
            "minimum_probability": "Asked of net control in both directions: "
            "how sure the computation must be that the path works at all. It is no share of the evenings.",
            "guest_of": "Its name. Their own net control takes the chair, so the rota leaves this net out.",
            "guest_class": "As they tell it, so that the club can say whether it covers the frequency.",
            "script": "What net control reads, in order. Seen by members.",
            "is_active": "Switch it off to end it for now; nothing that was held is lost.",
        }
        error_messages = {
            "simplex_mhz": {"max_whole_digits": IN_MEGAHERTZ},
            "name": {"unique": "There is a net of this name already; give this one another name."},
            "slug": {"unique": "Another net has this word in its address; choose another."},
        }
        widgets = {
            "first_date": _date_input(),
            "ends_on": _date_input(),
            "start_time": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "zone": ZoneInput(),
            "description": forms.Textarea(attrs={"rows": 3}),
            "script": forms.Textarea(attrs={"rows": 8}),
        }

    def __init__(
        self,
        *args: Any,
        now: dt.datetime | None = None,
        looking: bool = False,
        shows_outcome: bool = False,
        **kwargs: Any,
    ) -> None:
        self.now = now or timezone.now()
        self.looking, self.shows_outcome = looking, shows_outcome
        self.foretold: foretold.Foretold | None = None
        net = kwargs.get("instance")
        if net is not None and net.pk:
            kwargs["initial"] = _initial(net, self.now) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        self.has_met = bool(self.instance.pk and rule_changes.has_history(self.instance, now=self.now))
        self._fit_the_fields()

    def _fit_the_fields(self) -> None:
        """Somebody who may only look has no field to fit."""
        if "first_date" in self.fields:
            self._name_the_first_date()
            self.fields["slug"].required = False
            # What it was is known from the row; the page need not carry it.
            self.fields["zone"].show_hidden_initial = False
        guest_class = self.fields.get("guest_class")
        if isinstance(guest_class, forms.ModelChoiceField):
            guest_class.empty_label = "not known"
        relay, manager = self.fields.get("relay"), self.fields.get("manager")
        if isinstance(relay, forms.ModelChoiceField):
            relay.queryset, relay.empty_label = Relay.objects.all(), "no relay"
        if isinstance(manager, forms.ModelChoiceField):
            manager.queryset, manager.empty_label = Member.objects.filter(is_active=True), "nobody yet"

    def _name_the_first_date(self) -> None:
        field = self.fields["first_date"]
        if self.has_met:
            field.label = "From this date on"
            field.help_text = (
                "A change of when or where it meets holds from here; what was before stays as it was."
            )
        else:
            field.label = "First date"
            field.help_text = (
                "The first session is on it or on the next that fits; every other week counts from it."
            )

    @property
    def succession(self) -> rule_changes.Succession | None:
        """How the rules follow one another once a valid form is saved."""
        return self.foretold.succession if self.foretold else None

    def clean_slug(self) -> str:
        typed: str = self.cleaned_data["slug"]
        if typed and not _may_be_an_address(typed):
            raise forms.ValidationError(f"“{typed}” is the address of something else; choose another word.")
        kept = typed or self.instance.slug
        return kept or self._free_slug(slugify(self.data.get(self.add_prefix("name"), ""))[:70] or "net")

    def _free_slug(self, wanted: str) -> str:
        if not _may_be_an_address(wanted):
            wanted = f"{wanted}-net"
        taken = set(Net.objects.filter(slug__startswith=wanted).values_list("slug", flat=True))
        numbered = (f"{wanted}-{number}" for number in range(2, len(taken) + 3))
        return wanted if wanted not in taken else next(slug for slug in numbered if slug not in taken)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        ends_on, first_date = cleaned.get("ends_on"), cleaned.get("first_date")
        if (
            self.has_met
            and ends_on
            and first_date
            and ends_on < first_date
            and not set(WHEN) & set(self.changed_data)
        ):
            # Somebody ends the net before the date from which a change would have held: there is no change.
            cleaned["rule"], cleaned["first_date"] = self.instance.rule, self.instance.first_date
        return cleaned

    def clean_first_date(self) -> dt.date:
        date: dt.date = self.cleaned_data["first_date"]
        self._require_year(date)
        today = clock.to_wall(self.now, self.instance.zone or club_zone()).date()
        if self.has_met and date < today:
            raise forms.ValidationError(
                f"{whole_date(date)} is past, and what was held stays as it was. Give today, "
                f"{whole_date(today)}, or a later date."
            )
        return date

    def clean_ends_on(self) -> dt.date | None:
        date: dt.date | None = self.cleaned_data["ends_on"]
        if date is not None:
            self._require_year(date)
        return date

    def _require_year(self, date: dt.date) -> None:
        if not clock.FIRST_YEAR <= date.year < clock.LAST_YEAR:
            raise forms.ValidationError(
                f"The year {date.year} cannot be right; give one from {clock.FIRST_YEAR} to {clock.LAST_YEAR - 1}."
            )

    def _post_clean(self) -> None:
        """Fill the instance, then ask what needs all of it: does it ever meet, with whom does it clash."""
        super()._post_clean()  # type: ignore[misc]
        if not self.errors:
            self._check_ends()
        if not self.errors:
            self.foretold = foretold.foretell(self.instance, now=self.now)
            self._check_channel(self.foretold)
        if self.foretold is not None and not self.errors:
            self._ask(self.foretold)

    def _check_ends(self) -> None:
        net = self.instance
        first = recurrence.first_occurrence(net.anchored_rule, first_wall=net.first_wall, zone=net.zone)
        if first is None:
            self.add_error(
                "pattern",
                f"By this it never meets: no date from {whole_date(net.first_date)} on fits. "
                "Choose other days or months.",
            )
        elif net.ends_on and net.ends_on < first.wall.date():
            self.add_error(
                "ends_on",
                f"The first session would be on {whole_date(first.wall.date())}, after this last date; "
                "give a later one.",
            )
        elif "ends_on" in self.changed_data and net.pk and net.ends_on:
            held = rule_changes.last_held(net, now=self.now)
            if held and net.ends_on < held:
                self.add_error(
                    "ends_on", f"It met on {whole_date(held)}; give that date or a later one as the last."
                )

    def _check_channel(self, found: foretold.Foretold) -> None:
        if found.succession.changes:
            try:
                conflicts.require_net_free(self.instance, found.succession.rules, now=self.now)
            except conflicts.Clash as clash:
                self.add_error(None, str(clash))

    def _ask(self, found: foretold.Foretold) -> None:
        if not found.asks:
            return
        agreed = self.cleaned_data.get("agree") == found.digest
        self.fields["agree"].widget.attrs["value"] = found.digest
        if not (agreed or self.looking):
            self.add_error("agree", AGREE if self.shows_outcome else [AGREE, *found.sentences])


def _may_be_an_address(slug: str) -> bool:
    """Not the word of a page beside the nets, and not a date, which stands for a session."""
    try:
        dt.date.fromisoformat(slug)
    except ValueError:
        return slug not in RESERVED
    return False


def _initial(net: Net, now: dt.datetime) -> dict[str, Any]:
    """What to show of a net: its rule as it goes on from the next date."""
    since = net.first_date
    if rule_changes.has_met_under(net, now=now):
        since = rule_changes.next_date(net, now=now)
    return choices_of(rule_changes.remaining_rule(net, since)) | {"first_date": since}
