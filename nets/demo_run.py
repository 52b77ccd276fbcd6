"""The demo's steps, each safe to run again and saying how far it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.utils import timezone

from nets import demo, demo_logs, demo_outages, feeds, schedule
from nets.models import Duty, Net
from nets.reminders import outages, wishes
from nets.rota import publishing
from relays import demo_population, demo_terrain, demo_upkeep, paths
from relays.coverage import runs, working
from relays.models import PopulationRaster, TerrainTile
from relays.propagation import raster
from relays.upkeep import wishes as upkeep_wishes

Moved = Callable[[int, int], None]
Step = Callable[[dt.datetime, Moved], None]


def import_ground(now: dt.datetime, moved: Moved) -> None:
    """The real grid that ships inside matplotlib, unless some ground is there already."""
    moved(0, 1)
    if not TerrainTile.objects.exists():
        demo_terrain.import_demo_terrain(now=now)
    moved(1, 1)


def compile_calculation(now: dt.datetime, moved: Moved) -> None:
    """Some 15 s once an installation; later the kernels are read from the disk cache."""
    moved(0, 1)
    raster.warm_up()
    moved(1, 1)


def settle_people(now: dt.datetime, moved: Moved) -> None:
    """Invented villages, unless some people are there already."""
    moved(0, 1)
    if not PopulationRaster.objects.exists():
        demo_population.import_demo_population(now=now)
    moved(1, 1)


def load_club(now: dt.datetime, moved: Moved) -> None:
    moved(0, 1)
    demo.load_club(now=now)
    demo.logins()
    moved(1, 1)


def compute_paths(now: dt.datetime, moved: Moved) -> None:
    """Every station to every relay, where today's inputs are new."""
    pairs = list(paths.stale_pairs())
    moved(0, len(pairs))
    for index, (station, relay) in enumerate(pairs, start=1):
        paths.refresh(station, relay, now=now)
        moved(index, len(pairs))


def draw_coverage(now: dt.datetime, moved: Moved) -> None:
    """The coverage of each relay, for receivers at all the usual heights."""
    wanted = runs.ask_all(now=now)
    moved(0, len(wanted))
    for index, run in enumerate(wanted, start=1):
        working.compute(run.pk, clock=timezone.now)
        moved(index, len(wanted))


def plan_sessions(now: dt.datetime, moved: Moved) -> None:
    nets = list(Net.objects.all())
    for index, net in enumerate(nets, start=1):
        schedule.plan_sessions(net, now=now)
        moved(index, len(nets))


def write_up_logs(now: dt.datetime, moved: Moved) -> None:
    """What the nets did in the last quarter."""
    nets = list(Net.objects.all())
    for index, net in enumerate(nets, start=1):
        demo_logs.write_up(net, now=now)
        moved(index, len(nets))


def keep_up_sites(now: dt.datetime, moved: Moved) -> None:
    """What the relay sites need, and what was done there, for a club that has written nothing down."""
    moved(0, 1)
    demo_upkeep.write_up(now=now)
    moved(1, 1)


def make_rota(now: dt.datetime, moved: Moved) -> None:
    """A first rota for a club that has none; what people have agreed on since is theirs."""
    moved(0, 1)
    if not Duty.objects.exists():
        publishing.fill(now=now)
    moved(1, 1)


def plan_outage(now: dt.datetime, moved: Moved) -> None:
    """One evening without the ridge, which hits one session."""
    moved(0, 1)
    demo_outages.write_up(now=now)
    moved(1, 1)


def queue_notices(now: dt.datetime, moved: Moved) -> None:
    moved(0, 1)
    wishes.top_up(now=now)
    outages.top_up(now=now)
    upkeep_wishes.top_up(now=now)
    moved(1, 1)


def build_calendars(now: dt.datetime, moved: Moved) -> None:
    moved(0, 1)
    feeds.rebuild_changed(now=now)
    moved(1, 1)


STEPS: list[tuple[str, Step]] = [
    ("Importing real ground", import_ground),
    ("Compiling the calculation, once", compile_calculation),
    ("Settling invented villages", settle_people),
    ("Inventing a club", load_club),
    ("Working out who reaches which relay", compute_paths),
    ("Drawing the coverage maps", draw_coverage),
    ("Planning twelve weeks of sessions", plan_sessions),
    ("Writing up last quarter's logs", write_up_logs),
    ("Looking after the sites", keep_up_sites),
    ("Making a fair rota of people who are heard", make_rota),
    ("Planning an evening without the ridge", plan_outage),
    ("Queueing reminders", queue_notices),
    ("Writing calendars", build_calendars),
]
