"""What has to be done again and again at sites and relays, and that it was done."""

from __future__ import annotations

import uuid

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clubops.members.models import Member
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.upkeep import hazards
from relays.upkeep.rhythm import Plan, RhythmError, parse_dates, parse_leads, shortest_gap_days

LONGEST_LEAD_DAYS = 365


def validate_dates(text: str) -> None:
    """Refuse text that names no days and months."""
    try:
        parse_dates(text)
    except RhythmError as problem:
        raise ValidationError(str(problem)) from problem


def validate_leads(text: str) -> None:
    """Refuse text that is no list of days ahead."""
    try:
        parse_leads(text)
    except RhythmError as problem:
        raise ValidationError(str(problem)) from problem


def validate_hazards(keys: object) -> None:
    """Refuse what is no list of known hazards."""
    known = ", ".join(each.key for each in hazards.HAZARDS)
    if not isinstance(keys, list) or hazards.unknown(str(key) for key in keys):
        raise ValidationError(f"Hazards are a list of some of these: {known}.")


class UpkeepTask(models.Model):
    """Something to be done again and again at one site or to one relay."""

    class Rhythm(models.TextChoices):
        DAYS = "days", "every so many days"
        MONTHS = "months", "every so many months"
        DATES = "dates", "on fixed dates"

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey(
        Site, null=True, blank=True, on_delete=models.PROTECT, related_name="upkeep_tasks"
    )
    relay = models.ForeignKey(
        Relay, null=True, blank=True, on_delete=models.PROTECT, related_name="upkeep_tasks"
    )
    name = models.CharField(max_length=80, help_text="What is done, such as Battery voltage.")
    instructions = models.TextField(
        blank=True, help_text="How it is done. Seen by members; no gate codes here."
    )
    rhythm = models.CharField(max_length=8, choices=Rhythm, default=Rhythm.MONTHS)
    every = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(3660)],
        help_text="How many days or months after it was last done. Empty for fixed dates.",
    )
    fixed_dates = models.CharField(
        max_length=200,
        blank=True,
        validators=[validate_dates],
        help_text="Day and month of each, such as 15 April, 15 October. Empty for an interval.",
    )
    first_due_on = models.DateField(
        "first due", help_text="When it is due if it was never done; fixed dates count from this day on."
    )
    postponed_to = models.DateField(
        null=True, blank=True, help_text="Put off to this day, this once. Doing it clears this."
    )
    responsible = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="upkeep_tasks"
    )
    stand_in = models.ForeignKey(
        Member,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="upkeep_stand_ins",
        help_text="Asked when nobody is responsible, or the responsible person has left the club.",
    )
    lead_days = models.PositiveSmallIntegerField(
        "reminder",
        default=14,
        validators=[MaxValueValidator(LONGEST_LEAD_DAYS)],
        help_text="Days before it is due at which whoever is responsible is reminded.",
    )
    hazards = models.JSONField(default=list, blank=True, validators=[validate_hazards])
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(site__isnull=True, relay__isnull=False)
                | Q(site__isnull=False, relay__isnull=True),
                name="upkeep_task_site_or_relay",
            ),
            models.CheckConstraint(
                condition=Q(rhythm="dates", every__isnull=True) & ~Q(fixed_dates="")
                | Q(rhythm__in=["days", "months"], every__gte=1, fixed_dates=""),
                name="upkeep_task_interval_or_dates",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.where}"

    @property
    def where(self) -> str:
        """The name of its site or relay."""
        place = self.relay or self.site
        return place.name if place else ""

    @property
    def the_site(self) -> Site:
        """The site it is done at."""
        site = self.relay.site if self.relay else self.site
        assert site is not None
        return site

    @property
    def plan(self) -> Plan:
        """Its rhythm as a plain value. Raises `RhythmError` for fixed dates that cannot be read."""
        return Plan(
            rhythm=self.rhythm,
            first_on=self.first_due_on,
            every=self.every or 0,
            dates=parse_dates(self.fixed_dates) if self.fixed_dates else (),
            lead_days=self.lead_days,
        )

    def clean(self) -> None:
        problems: dict[str, str] = {}
        if bool(self.site_id) == bool(self.relay_id):
            problems["site"] = "A task belongs to a site or to a relay; name one of the two."
        if self.rhythm == self.Rhythm.DATES:
            if self.every:
                problems["every"] = (
                    "Fixed dates have no interval; leave this empty, or choose days or months."
                )
            if not self.fixed_dates.strip():
                problems["fixed_dates"] = "Write at least one day and month, such as 15 April."
        else:
            if not self.every:
                problems["every"] = "Say how many days or months lie between; give at least 1."
            if self.fixed_dates.strip():
                problems["fixed_dates"] = (
                    "An interval has no fixed dates; leave this empty, or choose fixed dates."
                )
        if self.responsible_id and self.responsible_id == self.stand_in_id:
            problems["stand_in"] = "The stand-in is somebody else than the responsible person."
        if not problems:
            problems |= self._lead_problem()
        if problems:
            raise ValidationError(problems)

    def _lead_problem(self) -> dict[str, str]:
        """A reminder that begins before the task was last done would never end."""
        try:
            gap_days = shortest_gap_days(self.plan)
        except RhythmError:
            return {}  # said beside the dates themselves
        if self.lead_days is None or self.lead_days < gap_days:
            return {}
        return {
            "lead_days": f"{self.lead_days} days is too early: it is done every {gap_days} days or so. "
            f"Give fewer than {gap_days}."
        }


class UpkeepRecord(models.Model):
    """That a task was done. `token` is what makes pressing the button twice write one record."""

    task = models.ForeignKey(UpkeepTask, on_delete=models.PROTECT, related_name="records")
    done_on = models.DateField()
    by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="upkeep_records"
    )
    notes = models.TextField(blank=True, help_text="What was found, what was changed.")
    was_due_on = models.DateField(null=True, blank=True, help_text="When it was due.")
    token = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-done_on", "-recorded_at", "-pk"]
        indexes = [models.Index(fields=["task", "-done_on"], name="upkeep_record_task_done")]

    def __str__(self) -> str:
        return f"{self.task.name}, done {self.done_on}"
