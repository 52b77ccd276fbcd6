"""Coverage in words and numbers: one row a relay, one for all together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from relays.coverage import live, runs
from relays.coverage.kept import Kept
from relays.coverage.rasters import LossRaster
from relays.models import CoverageRun, Relay
from relays.propagation.errors import PropagationError
from relays.propagation.presets import preset
from relays.reach import areas, radios
from relays.reach.areas import Areas
from relays.reach.thresholds import Reach, reach


@dataclass(frozen=True, slots=True)
class Row:
    """One relay: its areas when they are known, else why they are not.

    alone_km2: usable ground that no other relay on the air gives.
    """

    relay: Relay
    run: CoverageRun | None
    areas: Areas | None = None
    alone_km2: float | None = None
    end_sentence: str = ""
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Summary:
    """What a radio reaches: by relay, and all relays on the air together."""

    radio: str
    rows: tuple[Row, ...]
    together: Areas | None


@dataclass(frozen=True, slots=True)
class _Known:
    raster: LossRaster
    reach: Reach
    on_the_air: bool


@dataclass(frozen=True, slots=True)
class _Numbers:
    areas: tuple[Areas, ...]
    alone_km2: tuple[float, ...]
    together: Areas


def of(relays: Sequence[Relay], radio: str) -> Summary:
    """The summary for a typical radio, from stored rasters only: nothing is swept here.

    Raises UnknownPresetError. A relay without a fresh raster has its reason in its row.
    """
    height_m, building = preset(radio).height.value, preset(radio).indoors
    known, rows = [], {}
    for relay in relays:
        try:
            asked = live.question(relay, receiver_height_m=height_m, building=building)
            if asked.run is None:
                rows[relay.pk] = Row(relay, runs.today(relay))
                continue
            raster = live.loss(asked)
            known.append((asked, raster, reach(radios.typical(radio, relay), relay)))
        except PropagationError as problem:
            rows[relay.pk] = Row(relay, runs.today(relay), problem=str(problem))
    together = None
    if known:
        numbers = _numbers.get(
            tuple((asked.key, asked.relay.is_on_the_air, each) for asked, _, each in known),
            lambda: _work_out(
                [_Known(raster, each, asked.relay.is_on_the_air) for asked, raster, each in known]
            ),
        )
        together = numbers.together
        for (asked, raster, _), its, alone in zip(known, numbers.areas, numbers.alone_km2, strict=True):
            rows[asked.relay.pk] = Row(asked.relay, asked.run, its, alone, raster.end_sentence)
    return Summary(radio, tuple(rows[relay.pk] for relay in relays), together)


def _work_out(known: Sequence[_Known]) -> _Numbers:
    found = [areas.verdicts_of(each.raster, each.reach) for each in known]
    # Together, and alone against the others, only relays on the air count; if none is, all do.
    counting = [each for each, one in zip(found, known, strict=True) if one.on_the_air] or found
    return _Numbers(
        areas=tuple(areas.areas(each) for each in found),
        alone_km2=tuple(
            areas.added_km2(each, [other for other in counting if other is not each]) for each in found
        ),
        together=areas.areas(areas.together(counting)),
    )


_numbers: Kept[_Numbers] = Kept(200)
