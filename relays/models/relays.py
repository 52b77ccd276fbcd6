"""A relay (repeater): what it listens to, what it sends, and with what."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clubops.members.models import Station, validate_call_sign
from relays import bands, tones
from relays.models.sites import Site


def club_band_profile() -> str:
    """The club's band profile, as the default of a new relay."""
    return settings.CLUB_BAND_PROFILE


class Relay(models.Model):
    """One relay on a site. Frequencies in MHz; the offset is derived from the pair."""

    class Mode(models.TextChoices):
        FM = "fm", "FM, 5 kHz deviation"
        FM_NARROW = "fm_narrow", "FM, 2.5 kHz deviation"
        DMR = "dmr", "DMR digital voice"
        DSTAR = "dstar", "D-STAR digital voice"
        C4FM = "c4fm", "C4FM digital voice"
        P25 = "p25", "P25 digital voice"

    class Status(models.TextChoices):
        ON_AIR = "on_air", "on the air"
        REDUCED = "reduced", "on the air, reduced"
        OFF_AIR = "off_air", "off the air"
        PLANNED = "planned", "planned"

    class Polarization(models.TextChoices):
        VERTICAL = "vertical", "vertical"
        HORIZONTAL = "horizontal", "horizontal"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="relays")
    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    call_sign = models.CharField(max_length=16, validators=[validate_call_sign])
    mode = models.CharField(max_length=12, choices=Mode, default=Mode.FM)
    band_profile = models.CharField(
        max_length=16, default=club_band_profile, help_text="Whose band segments the pair is checked against."
    )
    output_mhz = models.DecimalField(
        "output",
        max_digits=9,
        decimal_places=4,
        help_text="MHz. What the relay sends; tune your receiver here.",
    )
    input_mhz = models.DecimalField(
        "input", max_digits=9, decimal_places=4, help_text="MHz. What the relay hears; your radio sends here."
    )
    access_tone_hz = models.DecimalField(
        "access tone",
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="CTCSS in Hz, such as 103.5.",
    )
    access_code = models.CharField(
        "access code", max_length=3, blank=True, help_text="DCS, three octal digits, such as 023."
    )
    output_tone_hz = models.DecimalField(
        "output tone",
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="CTCSS on the output, if any.",
    )
    power_w = models.FloatField("power", default=25.0, help_text="Watts at the transmitter.")
    antenna_height_m = models.FloatField(
        "antenna height",
        default=15.0,
        validators=[MinValueValidator(1), MaxValueValidator(3000)],
        help_text="Metres above the ground, 1 to 3000 (the range of P.1812).",
    )
    antenna_gain_dbi = models.FloatField(
        "antenna gain",
        default=5.15,
        validators=[MinValueValidator(-30), MaxValueValidator(30)],
        help_text="dBi.",
    )
    polarization = models.CharField(max_length=10, choices=Polarization, default=Polarization.VERTICAL)
    feedline_kind = models.CharField(max_length=40, blank=True)
    feedline_length_m = models.FloatField(
        "feedline length", default=20.0, validators=[MinValueValidator(0), MaxValueValidator(500)]
    )
    connectors = models.PositiveSmallIntegerField(default=4, validators=[MaxValueValidator(30)])
    antenna_swr = models.FloatField(
        "SWR",
        default=1.0,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        help_text="Standing wave ratio at the antenna, 1 to 20.",
    )
    duplexer_loss_db = models.FloatField(
        "duplexer loss",
        default=1.5,
        validators=[MinValueValidator(0), MaxValueValidator(20)],
        help_text="dB, each leg.",
    )
    sensitivity_uv = models.FloatField(
        "receiver sensitivity",
        default=0.25,
        validators=[MinValueValidator(0.01), MaxValueValidator(100)],
        help_text="Microvolts for 12 dB SINAD.",
    )
    noise_class = models.CharField(max_length=20, choices=Station.Noise, default=Station.Noise.RURAL)
    identification_interval_min = models.PositiveSmallIntegerField(
        "identification interval",
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text="Minutes. 10 in the US (47 CFR 97.119(a)); other countries differ.",
    )
    time_out_s = models.PositiveIntegerField(
        "time-out", default=180, validators=[MaxValueValidator(3600)], help_text="Seconds; 0 for none."
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.ON_AIR)
    status_note = models.CharField(max_length=200, blank=True)
    linked_to = models.ManyToManyField("self", blank=True, help_text="Relays that carry the same audio.")
    coordination_expires_on = models.DateField(null=True, blank=True)
    licence_expires_on = models.DateField(null=True, blank=True)
    notes = models.TextField(
        blank=True, help_text="Shown to everybody: how to use it, customs, internet link."
    )

    class Meta:
        ordering = ["-output_mhz", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(power_w__gt=0), name="relay_power_positive"),
            models.CheckConstraint(
                condition=Q(access_tone_hz__isnull=True) | Q(access_code=""),
                name="relay_tone_or_code_not_both",
            ),
            models.CheckConstraint(
                condition=Q(antenna_height_m__gte=1, antenna_height_m__lte=3000), name="relay_antenna_height"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.output_mhz:.3f} MHz"

    @property
    def offset_mhz(self) -> Decimal:
        """Input less output, MHz: what to set as the offset on a radio tuned to the output."""
        return self.input_mhz - self.output_mhz

    @property
    def is_on_the_air(self) -> bool:
        return self.status in {self.Status.ON_AIR, self.Status.REDUCED}

    def clean(self) -> None:
        problems: dict[str, list[str]] = {}
        for field, check in (
            ("access_tone_hz", tones.ctcss),
            ("output_tone_hz", tones.ctcss),
            ("access_code", tones.dcs),
        ):
            value = getattr(self, field)
            if value in (None, ""):
                continue
            try:
                setattr(self, field, check(value))
            except tones.ToneError as refusal:
                problems.setdefault(field, []).append(str(refusal))
        if self.access_tone_hz is not None and self.access_code:
            problems.setdefault("access_code", []).append(
                f"This relay already opens on the tone {self.access_tone_hz} Hz; give a tone or a code, not both."
            )
        if self.output_mhz is not None and self.input_mhz is not None:
            for problem in bands.check_pair(self.output_mhz, self.input_mhz, self.band_profile):
                if problem.is_error:
                    problems.setdefault(problem.field, []).append(problem.sentence)
        if problems:
            raise ValidationError(problems)
