"""What the map is drawn from: the ground, the loss around a relay, and the same to take away."""

from __future__ import annotations

import gzip
import math
from typing import Literal

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import get_conditional_response, patch_cache_control, patch_vary_headers
from django.views.decorators.http import require_safe

from clubops.members.models import Station
from relays import basemap, paths
from relays.coverage import live, packed, runs
from relays.coverage.inputs import RASTER_EDITION
from relays.coverage.rasters import LossRaster
from relays.models import CoverageRun, Relay
from relays.propagation.errors import PropagationError
from relays.propagation.presets import PRESETS
from relays.reach import exports, radios
from relays.reach.radios import RADIO_KEYS
from relays.reach.thresholds import Reach, reach
from relays.web.forms import relay_choices
from relays.web.map import TOGETHER

_HEIGHT_DECIMALS = 1
# Outlines of more posts than this are too large to be of use.
_MOST_EXPORTED = 1_500_000


@require_safe
def relief(request: HttpRequest) -> HttpResponseBase:
    """The shaded ground, PNG."""
    found = basemap.relief(relay_choices())
    if found is None:
        raise Http404("There is no imported ground around the relays.")
    etag = f'"{found.version}"'
    answer = get_conditional_response(request, etag=etag) or HttpResponse(
        found.path.read_bytes(), content_type="image/png"
    )
    answer["ETag"] = etag
    if request.GET.get("v") == found.version:
        patch_cache_control(answer, public=True, max_age=31_536_000, immutable=True)
    else:
        patch_cache_control(answer, no_cache=True)
    return answer


@require_safe
def loss(request: HttpRequest, slug: str) -> HttpResponseBase:
    """Loss around one relay as `packed.packed` has it. A refusal is a sentence in JSON."""
    relay = get_object_or_404(Relay.objects.select_related("site"), slug=slug)
    try:
        antenna_m = _height(request, "antenna")
        receiver_m = _height(request, "receiver") or PRESETS[radios.DEFAULT_RADIO].height.value
        asked = live.question(
            relay,
            antenna_height_m=antenna_m,
            receiver_height_m=receiver_m,
            building=_building(request),
            detail=_detail(request),
        )
        etag = f'"{asked.key[:40]}"'
        answer = get_conditional_response(request, etag=etag)
        if answer is None:
            answer = _packed(request, live.loss_bytes(asked))
    except live.Busy as problem:
        return _refusal(problem, 503)
    except (PropagationError, ValueError) as problem:
        return _refusal(problem, 422)
    answer["ETag"] = etag
    patch_cache_control(answer, no_cache=True)
    patch_vary_headers(answer, ["Accept-Encoding"])
    return answer


def _packed(request: HttpRequest, content: bytes) -> HttpResponse:
    if "gzip" in request.headers.get("Accept-Encoding", ""):
        answer = HttpResponse(content, content_type="application/octet-stream")
        answer["Content-Encoding"] = "gzip"
        return answer
    return HttpResponse(gzip.decompress(content), content_type="application/octet-stream")


def _refusal(problem: Exception, status: int) -> JsonResponse:
    answer = JsonResponse({"problem": str(problem)}, status=status)
    if status == 503:
        answer["Retry-After"] = "3"
    return answer


def _height(request: HttpRequest, name: str) -> float | None:
    """A height to the decimetre; ranges are the calculation's own affair. Raises ValueError."""
    text = request.GET.get(name, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(f"“{text[:20]}” is not a height; give metres above the ground, such as 22.")
    return round(value, _HEIGHT_DECIMALS)


def _building(request: HttpRequest) -> str | None:
    """Raises ValueError."""
    key = request.GET.get("building", "") or None
    if key is not None and key not in Station.Building:
        raise ValueError(f"“{key[:20]}” is no kind of building; use one of {', '.join(Station.Building)}.")
    return key


def _detail(request: HttpRequest) -> Literal["draft", "fine"]:
    return "draft" if request.GET.get("detail") == "draft" else "fine"


@require_safe
def loss_file(request: HttpRequest, slug: str) -> HttpResponseBase:
    """The stored raster itself, a Cloud-Optimized GeoTIFF."""
    run = _fresh_run(slug)
    etag = f'"{run.inputs_digest}"'
    answer = get_conditional_response(request, etag=etag) or FileResponse(
        default_storage.open(str(run.raster.name)),
        as_attachment=True,
        filename=f"{slug}-loss.tif",
        content_type="image/tiff; application=geotiff; profile=cloud-optimized",
    )
    answer["ETag"] = etag
    return answer


@require_safe
def picture(request: HttpRequest, slug: str) -> HttpResponse:
    """Verdicts as a PNG with its world file, zipped."""
    return _export(request, slug, "zip", "application/zip")


@require_safe
def outlines(request: HttpRequest, slug: str) -> HttpResponse:
    """Where each verdict or a better one is reached, GeoJSON."""
    return _export(request, slug, "geojson", "application/geo+json")


def _export(
    request: HttpRequest, slug: str, kind: Literal["zip", "geojson"], content_type: str
) -> HttpResponse:
    radio = request.GET.get("radio", radios.DEFAULT_RADIO)
    if radio not in RADIO_KEYS:
        raise Http404(f"There is no radio called “{radio[:40]}”.")
    known = _fresh_runs() if slug == TOGETHER else [_fresh_run(slug)]
    facts = [(run.inputs_digest, _figures(run.relay)) for run in known]
    etag = f'"{paths.digest({"runs": facts, "radio": radio, "kind": kind, "edition": paths.CALCULATION_EDITION})[:40]}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        answer = HttpResponse(_made(known, radio, kind), content_type=content_type)
        answer["Content-Disposition"] = f'attachment; filename="{slug}-{radio}.{kind}"'
    answer["ETag"] = etag
    return answer


def _made(known: list[CoverageRun], radio: str, kind: Literal["zip", "geojson"]) -> bytes:
    try:
        parts = [_part(run, radio) for run in known]
    except PropagationError as problem:
        raise Http404(str(problem)) from problem
    label = f"a {PRESETS[radio].label}"
    if len(known) > 1:
        of_all = {"zip": exports.picture_together, "geojson": exports.outlines_together}[kind]
        return of_all(parts, [run.relay.name for run in known], label, RASTER_EDITION)
    words = exports.Words(known[0].relay, label, RASTER_EDITION)
    return {"zip": exports.picture, "geojson": exports.outlines}[kind](*parts[0], words)


def _part(run: CoverageRun, radio: str) -> tuple[LossRaster, Reach]:
    its = PRESETS[radio]
    raster = live.loss(live.question(run.relay, receiver_height_m=its.height.value, building=its.indoors))
    return packed.thinned(raster, _MOST_EXPORTED), reach(radios.typical(radio, run.relay), run.relay)


def _figures(relay: Relay) -> dict[str, str]:
    """Whatever of the relay bears on a verdict."""
    return {name: str(getattr(relay, name)) for name in paths.RELAY_FIELDS}


def _fresh_run(slug: str) -> CoverageRun:
    relay = get_object_or_404(Relay.objects.select_related("site"), slug=slug)
    run = runs.fresh(relay)
    if run is None:
        raise Http404("The coverage of this relay is not worked out yet, or something changed since.")
    run.relay = relay
    return run


def _fresh_runs() -> list[CoverageRun]:
    """Of every relay on the air that is worked out."""
    found = []
    for relay in relay_choices():
        run = runs.fresh(relay) if relay.is_on_the_air else None
        if run is not None:
            run.relay = relay
            found.append(run)
    if not found:
        raise Http404("No coverage is worked out yet.")
    return found
