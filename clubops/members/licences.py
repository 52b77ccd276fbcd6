"""The club's own table of licence classes. Every country's differs, so none is delivered with the service."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from clubops.members.segments import OPERATION_WORDS, Operation, Segment, trouble


class LicenceClass(models.Model):
    """A class of licence as the club writes it down. Without privileges its holders are “unknown”, not banned."""

    name = models.CharField(max_length=40, unique=True)
    order = models.PositiveSmallIntegerField(
        default=0, help_text="Lists go by this: 1 for the class that is allowed least."
    )
    note = models.CharField(
        max_length=200,
        blank=True,
        help_text="Where the table comes from, such as the regulation and its date.",
    )

    class Meta:
        ordering = ["order", "name"]
        verbose_name = "licence class"
        verbose_name_plural = "licence classes"

    def __str__(self) -> str:
        return self.name

    @property
    def segments(self) -> list[Segment]:
        return [each.segment for each in self.privileges.all()]


class Privilege(models.Model):
    """A stretch of spectrum where holders of a class may send voice, with how much power and how freely."""

    class Freedom(models.IntegerChoices):
        CHAIR = Operation.CHAIR, OPERATION_WORDS[Operation.CHAIR]
        ALONE = Operation.ALONE, OPERATION_WORDS[Operation.ALONE]
        SUPERVISED = Operation.SUPERVISED, OPERATION_WORDS[Operation.SUPERVISED]

    licence_class = models.ForeignKey(LicenceClass, on_delete=models.CASCADE, related_name="privileges")
    low_mhz = models.DecimalField("from", max_digits=10, decimal_places=4, help_text="MHz.")
    high_mhz = models.DecimalField("to", max_digits=10, decimal_places=4, help_text="MHz.")
    most_power_w = models.FloatField(
        "most power",
        null=True,
        blank=True,
        validators=[MaxValueValidator(100000)],
        help_text="Watts out of the transmitter; nothing where the class has no limit there.",
    )
    operation = models.PositiveSmallIntegerField("operates", choices=Freedom, default=Freedom.CHAIR)

    class Meta:
        ordering = ["licence_class", "low_mhz"]
        constraints = [
            models.CheckConstraint(
                condition=Q(low_mhz__gt=0, high_mhz__gt=F("low_mhz")), name="privilege_low_below_high"
            ),
            models.CheckConstraint(
                condition=Q(most_power_w__isnull=True) | Q(most_power_w__gt=0),
                name="privilege_power_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.licence_class} {self.segment}"

    @property
    def segment(self) -> Segment:
        return Segment(self.low_mhz, self.high_mhz, self.most_power_w, self.operation)

    def clean(self) -> None:
        """The sentence where the stretch cannot be; fields that could not be read have their own."""
        if self.low_mhz is not None and self.high_mhz is not None and (sentence := trouble(self.segment)):
            raise ValidationError(sentence)
