"""The shaded ground under the map: made once for one ground, served with its version."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.test import Client
from PIL import Image

from relays import basemap
from relays.models import Relay
from relays.propagation.relief import shaded
from relays.terrain_store import current_ground
from tests.coverage.hills import COLUMNS, NORTH, ROWS, STEP, WEST, hills


def bands(path: Path) -> Any:
    """Grey and opacity as another library reads them."""
    with Image.open(path) as picture:
        return np.moveaxis(np.asarray(picture), -1, 0)


def test_it_covers_the_known_ground_around_the_relays(hill_relay: Relay) -> None:
    found = basemap.relief([hill_relay])
    assert found is not None
    assert (found.lattice.rows, found.lattice.columns) == (ROWS, COLUMNS)
    assert found.lattice.north_deg == pytest.approx(NORTH - STEP / 2)
    assert found.lattice.west_deg == pytest.approx(WEST + STEP / 2)


def test_it_is_the_grounds_own_shade(hill_relay: Relay) -> None:
    found = basemap.relief([hill_relay])
    assert found is not None
    grey, opacity = bands(found.path)
    ground = current_ground().grid_around(35.953, -83.948, 60.0)
    assert np.array_equal(grey, shaded(ground, exaggeration=1.5))
    assert (opacity == 255).all()


def test_a_hole_in_the_ground_is_clear(hill_relay: Relay, import_heights: Callable[..., Any]) -> None:
    from_hole = hills()
    from_hole[30:70, 20:60] = np.nan
    current = import_heights(from_hole, name="holed.tif", nodata=float("nan"))
    current.tile.__class__.objects.exclude(pk=current.tile.pk).delete()
    found = basemap.relief([hill_relay])
    assert found is not None
    assert (bands(found.path)[1, 35:65, 25:55] == 0).all()


def test_only_the_ground_within_the_radius_is_drawn(hill_relay: Relay, settings: Any) -> None:
    settings.COVERAGE_RADIUS_KM = 1
    found = basemap.relief([hill_relay])
    assert found is not None
    assert 20 < found.lattice.rows < 30


def test_too_many_posts_are_thinned(hill_relay: Relay, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(basemap, "MOST_POSTS", ROWS * COLUMNS // 4)
    found = basemap.relief([hill_relay])
    assert found is not None
    assert (found.lattice.rows, found.lattice.columns) == (ROWS // 2, COLUMNS // 2)


def test_without_ground_or_relays_there_is_none(relay: Relay, store: Path) -> None:
    assert basemap.relief([relay]) is None
    assert basemap.relief([]) is None


def test_a_relay_far_from_all_ground_has_none(hill_relay: Relay) -> None:
    hill_relay.site.latitude_deg, hill_relay.site.longitude_deg = -20.0, 30.0
    assert basemap.relief([hill_relay]) is None


def test_new_ground_makes_a_new_picture_and_takes_the_old_away(
    hill_relay: Relay, import_heights: Callable[..., Any]
) -> None:
    old = basemap.relief([hill_relay])
    import_heights(hills() * 1.1, name="newer.tif")
    new = basemap.relief([hill_relay])
    assert old is not None
    assert new is not None
    assert old.version != new.version
    assert [entry.name for entry in new.path.parent.iterdir()] == [new.path.name]


def test_a_picture_that_was_not_finished_is_not_seen(
    hill_relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.replace", full)
        with pytest.raises(OSError, match="No space"):
            basemap.relief([hill_relay])
    found = basemap.relief([hill_relay])
    assert found is not None
    assert [entry.name for entry in found.path.parent.iterdir()] == [found.path.name]


def test_a_browser_keeps_it_as_long_as_the_ground_is_the_same(client: Client, hill_relay: Relay) -> None:
    found = basemap.relief([hill_relay])
    assert found is not None
    answer = client.get(f"/map/relief.png?v={found.version}")
    assert answer["Content-Type"] == "image/png"
    assert "immutable" in answer["Cache-Control"]
    assert answer.content == found.path.read_bytes()
    again = client.get("/map/relief.png", headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "no-cache" in again["Cache-Control"]


def test_an_old_version_is_not_kept_for_ever(client: Client, hill_relay: Relay) -> None:
    answer = client.get("/map/relief.png?v=long-gone")
    assert "immutable" not in answer["Cache-Control"]
    assert answer.status_code == 200


def test_without_ground_the_address_is_unknown(client: Client, relay: Relay, store: Path) -> None:
    assert client.get("/map/relief.png").status_code == 404
