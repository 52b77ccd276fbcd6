"""Sites, relays, terrain and verdicts in the office."""

from __future__ import annotations

from typing import Any

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from clubops.members.models import Station
from relays import paths
from relays.coverage import runs
from relays.forms import OfficeRelayForm, OfficeSiteForm, OfficeStationForm
from relays.models import CoverageRun, Outage, PathVerdict, PopulationRaster, Relay, Site, TerrainTile
from relays.web import upkeep_office

# The office of upkeep registers itself; it has a file of its own.
__all__ = ["upkeep_office"]


@admin.register(Station)
class StationAdmin(admin.ModelAdmin):
    """Here and not with the roster: its form knows cables and presets, which the roster does not."""

    form = OfficeStationForm
    list_display = [
        "member",
        "name",
        "is_main",
        "power_w",
        "antenna_height_m",
        "antenna_gain_dbi",
        "building",
    ]
    list_filter = ["is_main", "surroundings", "building", "noise_class"]
    search_fields = ["member__call_sign", "member__name", "name"]
    autocomplete_fields = ["member"]
    list_select_related = ["member"]
    fieldsets = [
        (None, {"fields": ["member", ("name", "is_main"), ("latitude_deg", "longitude_deg")]}),
        ("Surroundings", {"fields": ["surroundings", ("building", "noise_class")]}),
        ("Radio", {"fields": ["preset", ("power_w", "sensitivity_uv")]}),
        ("Antenna", {"fields": [("antenna_height_m", "antenna_gain_dbi"), ("antenna_swr", "body_loss_db")]}),
        ("Feedline", {"fields": ["feedline_kind", ("feedline_length_m", "connectors")]}),
    ]


class RelayInline(admin.TabularInline):
    model = Relay
    extra = 0
    show_change_link = True
    fields = ["name", "call_sign", "output_mhz", "input_mhz", "status"]


@admin.register(Site)
class SiteAdmin(admin.ModelAdmin):
    form = OfficeSiteForm
    list_display = ["name", "steward", "lease_expires_on"]
    search_fields = ["name", "description"]
    list_select_related = ["steward"]
    prepopulated_fields = {"slug": ["name"]}
    inlines = [RelayInline]
    fieldsets = [
        (None, {"fields": [("name", "slug"), ("latitude_deg", "longitude_deg"), "description"]}),
        ("Upkeep", {"fields": ["steward", "access_notes", "lease_expires_on"]}),
        (
            "Cautions",
            {
                "fields": ["hazards"],
                "description": "Never climb alone. Switch off or lock out before entering an RF area. Local codes "
                "and licensed practice decide; this list only reminds.",
            },
        ),
    ]

    def get_fieldsets(self, request: HttpRequest, obj: Site | None = None) -> Any:
        """Gate, keys and road are for those who tend sites; others may look at the rest."""
        fieldsets = super().get_fieldsets(request, obj)
        if self.has_change_permission(request, obj):
            return fieldsets
        return [
            (title, {**options, "fields": [name for name in options["fields"] if name != "access_notes"]})
            for title, options in fieldsets
        ]


@admin.register(Relay)
class RelayAdmin(admin.ModelAdmin):
    form = OfficeRelayForm
    list_display = [
        "name",
        "call_sign",
        "output_mhz",
        "input_mhz",
        "access_tone_hz",
        "mode",
        "status",
        "site",
    ]
    list_filter = ["status", "mode", "site"]
    search_fields = ["name", "call_sign", "output_mhz", "input_mhz"]
    list_select_related = ["site"]
    autocomplete_fields = ["site"]
    filter_horizontal = ["linked_to"]
    prepopulated_fields = {"slug": ["name"]}
    actions = ["recompute_paths"]
    fieldsets = [
        (
            None,
            {"fields": [("name", "slug"), "site", ("call_sign", "mode"), ("status", "status_note"), "notes"]},
        ),
        (
            "Frequencies and access",
            {
                "fields": [
                    ("output_mhz", "input_mhz"),
                    "band_profile",
                    ("access_tone_hz", "access_code"),
                    "output_tone_hz",
                ]
            },
        ),
        (
            "Transmitter, receiver and antenna",
            {
                "fields": [
                    ("power_w", "sensitivity_uv"),
                    ("antenna_height_m", "antenna_gain_dbi", "polarization"),
                    ("feedline_kind", "feedline_length_m"),
                    ("connectors", "antenna_swr"),
                    ("duplexer_loss_db", "noise_class"),
                ]
            },
        ),
        ("Timers and links", {"fields": [("identification_interval_min", "time_out_s"), "linked_to"]}),
        ("Dates", {"fields": [("coordination_expires_on", "licence_expires_on")]}),
    ]

    @admin.action(description="Compute the paths of the chosen relays again", permissions=["change"])
    def recompute_paths(self, request: HttpRequest, chosen: QuerySet[Relay]) -> None:
        done = paths.refresh_relays(chosen, now=timezone.now())
        self.message_user(request, f"{done} paths computed.", messages.SUCCESS)


@admin.register(TerrainTile)
class TerrainTileAdmin(admin.ModelAdmin):
    list_display = ["name", "kind", "source", "datum", "rows", "columns", "voids_filled", "imported_at"]
    list_filter = ["kind"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False  # tiles come in through `manage.py import_terrain`, which checks them

    def has_change_permission(self, request: HttpRequest, obj: TerrainTile | None = None) -> bool:
        return False


@admin.register(PopulationRaster)
class PopulationRasterAdmin(admin.ModelAdmin):
    list_display = [
        "name",
        "people",
        "densest_per_km2",
        "given_as",
        "source",
        "rows",
        "columns",
        "imported_at",
    ]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False  # rasters come in through `manage.py import_population`, which checks them

    def has_change_permission(self, request: HttpRequest, obj: PopulationRaster | None = None) -> bool:
        return False


@admin.register(PathVerdict)
class PathVerdictAdmin(admin.ModelAdmin):
    list_display = ["station", "relay", "state", "talk_in_margin_db", "talk_out_margin_db", "computed_at"]
    list_filter = ["state", "relay"]
    search_fields = ["station__member__call_sign", "relay__name"]
    list_select_related = ["station__member", "relay"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: PathVerdict | None = None) -> bool:
        return False


@admin.register(CoverageRun)
class CoverageRunAdmin(admin.ModelAdmin):
    list_display = [
        "relay",
        "state",
        "radials",
        "antenna_height_m",
        "asked_at",
        "finished_at",
        "attempts",
        "error",
    ]
    list_filter = ["state", "relay"]
    list_select_related = ["relay"]
    actions = ["stop", "begin_again"]

    @admin.display(description="radials")
    def radials(self, run: CoverageRun) -> str:
        return f"{run.radials_done} of {run.radials_total}" if run.radials_total else "none yet"

    @admin.action(description="Stop the chosen runs", permissions=["delete"])
    def stop(self, request: HttpRequest, chosen: QuerySet[CoverageRun]) -> None:
        stopped = sum(runs.cancel(run, now=timezone.now()) for run in chosen)
        self.message_user(request, f"{stopped} being stopped.", messages.SUCCESS)

    @admin.action(description="Work the chosen runs out again", permissions=["delete"])
    def begin_again(self, request: HttpRequest, chosen: QuerySet[CoverageRun]) -> None:
        begun = sum(runs.again(run, now=timezone.now()) for run in chosen)
        self.message_user(request, f"{begun} waiting; a worker takes them within a minute.", messages.SUCCESS)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False  # a run is asked for by the relay's own figures

    def has_change_permission(self, request: HttpRequest, obj: CoverageRun | None = None) -> bool:
        return False


@admin.register(Outage)
class OutageAdmin(admin.ModelAdmin):
    """To look through. Outages are entered, changed and ended on their own pages, which show what they cut off."""

    list_display = ["relay", "effect", "kind", "starts_at", "ends_at", "called_off_at", "reason"]
    list_filter = ["relay", "kind", "effect"]
    search_fields = ["relay__name", "reason"]
    date_hierarchy = "starts_at"
    list_select_related = ["relay"]
    ordering = ["-starts_at"]

    def view_on_site(self, outage: Outage) -> str:
        """The page on which it is changed."""
        return reverse("nets:outage", args=[outage.pk])

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Outage | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Outage | None = None) -> bool:
        return False  # calendars have told of it; it is called off instead
