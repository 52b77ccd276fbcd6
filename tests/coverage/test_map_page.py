"""The map's page and the addresses behind it: words without a script, sentences for bad input, nobody's home."""

from __future__ import annotations

import gzip
import io
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from django.test import Client
from PIL import Image
from rasterio.io import MemoryFile

from relays.coverage import live, runs, working
from relays.models import CoverageRun, Relay
from relays.reach.exports import COLOURS
from tests.conftest import NOW, Cast, make_station
from tests.coverage.test_contours_published import signed_area
from tests.coverage.test_live import unpack

HOME = (35.97134567, -83.96187654)
TRACES = ("35.97", "83.96", "35,97")


def text(response: Any) -> str:
    """What a person reads, spaces folded."""
    page = re.sub(r"<script.*?</script>", " ", response.content.decode(), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\N{NO-BREAK SPACE}", " ").split())


def data(response: Any) -> dict[str, Any]:
    """What the page's script starts from."""
    found = re.search(r'<script id="map-data"[^>]*>(.*?)</script>', response.content.decode(), re.DOTALL)
    assert found
    parsed: dict[str, Any] = json.loads(found.group(1))
    return parsed


# The page ------------------------------------------------------------------------------------------


def test_the_table_says_what_the_map_shows(client: Client, done_run: CoverageRun) -> None:
    page = text(client.get("/map/?radio=mobile"))
    assert re.search(r"Slope 2 m \d+(\.\d)? km² (over |under )?\d+ %; .*? sure", page)
    assert "By relay, with mobile" in page
    assert "The imported ground ends" in page


def test_a_run_that_waits_is_not_shown_as_done(client: Client, hill_relay: Relay) -> None:
    runs.ask(hill_relay, now=NOW)
    assert "It waits to be worked out." in text(client.get("/map/"))


def test_a_run_under_way_says_how_far_it_is(client: Client, hill_relay: Relay) -> None:
    working.claim(runs.ask(hill_relay, now=NOW).pk, now=NOW)
    CoverageRun.objects.update(radials_done=25, radials_total=100)
    assert "Being worked out: 25 % done." in text(client.get("/map/"))


def test_a_run_that_failed_says_why(client: Client, hill_relay: Relay) -> None:
    hill_relay.site.latitude_deg = 36.5
    hill_relay.site.save()
    working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert "The relay itself stands outside the imported terrain" in text(client.get("/map/"))


def test_a_stale_raster_is_not_in_the_table(client: Client, done_run: CoverageRun) -> None:
    Relay.objects.update(antenna_height_m=40)
    assert "It waits to be worked out." in text(client.get("/map/"))


def test_without_ground_the_page_still_stands(client: Client, relay: Relay, store: Path) -> None:
    response = client.get("/map/")
    assert response.status_code == 200
    assert data(response)["relief"] is None


def test_without_relays_it_says_what_is_missing(client: Client, db: None) -> None:
    assert "no relay has been entered" in text(client.get("/map/"))


@pytest.mark.parametrize("query", ["relay=nowhere", "radio=nothing", "relay=%00&radio=1"])
def test_an_odd_choice_is_named_and_the_page_still_stands(
    query: str, client: Client, hill_relay: Relay
) -> None:
    response = client.get(f"/map/?{query}")
    assert response.status_code == 422
    assert "is not one of the list" in text(response)
    assert "Where the relays hear you" in text(response)


def test_the_page_of_a_member_is_nobody_elses(as_reader: Callable[[str], Client], hill_relay: Relay) -> None:
    cache = as_reader("member").get("/map/")["Cache-Control"]
    assert "private" in cache
    assert "no-cache" in cache


def test_a_member_sees_their_own_stations_and_nobody_elses(
    as_reader: Callable[[str], Client], cast: Cast, hill_relay: Relay
) -> None:
    own = make_station(cast.member, HOME)
    make_station(cast.net_control, (35.98, -83.95))
    radios = data(as_reader("member").get("/map/"))["radios"]
    assert [each["key"] for each in radios if "place_deg" in each] == [f"station-{own.pk}"]


@pytest.mark.parametrize("who", ["outsider", "net control", "net manager", "steward", "officer"])
def test_no_home_is_on_anybody_elses_map(
    who: str, as_reader: Callable[[str], Client], cast: Cast, done_run: CoverageRun
) -> None:
    make_station(cast.member, HOME)
    browser = as_reader(who)
    for address in ("/map/", "/map/slope-2m/outlines.geojson"):
        response = browser.get(address)
        assert response.status_code == 200
        assert "station-" not in response.content.decode()
        if address != "/map/slope-2m/outlines.geojson":  # outlines pass everywhere, homes or not
            assert not any(trace in response.content.decode() for trace in TRACES)


# Loss ----------------------------------------------------------------------------------------------


def test_the_loss_is_what_the_raster_holds(client: Client, done_run: CoverageRun, hill_relay: Relay) -> None:
    answer = client.get("/map/slope-2m/loss?receiver=1.5", headers={"Accept-Encoding": "gzip"})
    head, codes = unpack(answer.content)
    assert answer["Content-Encoding"] == "gzip"
    assert head["stored"]
    assert codes.shape == live.loss(live.question(hill_relay, receiver_height_m=1.5)).loss_db.shape


def test_who_takes_no_gzip_gets_the_bytes_as_they_are(client: Client, done_run: CoverageRun) -> None:
    packed = client.get("/map/slope-2m/loss", headers={"Accept-Encoding": "gzip"})
    plain = client.get("/map/slope-2m/loss", headers={"Accept-Encoding": "identity"})
    assert "Content-Encoding" not in plain
    assert gzip.decompress(packed.content) == plain.content


def test_asked_again_nothing_is_sent(client: Client, done_run: CoverageRun) -> None:
    first = client.get("/map/slope-2m/loss?receiver=10")
    again = client.get("/map/slope-2m/loss?receiver=10", headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    other = client.get("/map/slope-2m/loss?receiver=2", headers={"If-None-Match": first["ETag"]})
    assert other.status_code == 200


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("antenna=high", "“high” is not a height; give metres above the ground, such as 22."),
        ("receiver=nan", "is not a height"),
        ("antenna=inf", "is not a height"),
        ("antenna=100000", "3000"),
        ("receiver=0.1", "3000"),
        ("antenna=-5", "3000"),
        ("building=tent", "“tent” is no kind of building"),
    ],
)
def test_a_height_that_makes_no_sense_gets_a_sentence(
    query: str, words: str, client: Client, hill_relay: Relay
) -> None:
    answer = client.get(f"/map/slope-2m/loss?{query}")
    assert answer.status_code == 422
    assert words in answer.json()["problem"]


def test_when_too_much_is_asked_it_says_so(
    client: Client, hill_relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(_: Any) -> bytes:
        raise live.Busy

    monkeypatch.setattr(live, "loss_bytes", busy)
    answer = client.get("/map/slope-2m/loss")
    assert (answer.status_code, answer["Retry-After"]) == (503, "3")
    assert "Try again in a few seconds" in answer.json()["problem"]


# To take away --------------------------------------------------------------------------------------


def test_the_raster_can_be_taken_away(client: Client, done_run: CoverageRun) -> None:
    answer = client.get("/map/slope-2m/loss.tif")
    content = b"".join(answer.streaming_content)
    assert 'filename="slope-2m-loss.tif"' in answer["Content-Disposition"]
    with MemoryFile(content) as memory, memory.open() as file:
        assert file.count == 6
    assert client.get("/map/slope-2m/loss.tif", headers={"If-None-Match": answer["ETag"]}).status_code == 304


@pytest.mark.parametrize(
    ("name", "content_type"),
    [("picture.zip", "application/zip"), ("outlines.geojson", "application/geo+json")],
)
def test_exports_go_with_the_radio_asked_for(
    name: str, content_type: str, client: Client, done_run: CoverageRun
) -> None:
    one, other = (
        client.get(f"/map/slope-2m/{name}?radio={radio}") for radio in ("mobile", "handheld_indoors")
    )
    assert one["Content-Type"] == content_type
    assert one.content != other.content
    assert one["ETag"] != other["ETag"]


def test_a_relays_power_changes_the_outlines_and_not_the_raster(
    client: Client, done_run: CoverageRun
) -> None:
    def tag(name: str) -> str:
        answer = client.get(f"/map/slope-2m/{name}")
        answer.close()
        return str(answer["ETag"])

    before = tag("loss.tif"), tag("outlines.geojson")
    Relay.objects.update(power_w=1)
    assert tag("loss.tif") == before[0]
    assert tag("outlines.geojson") != before[1]


@pytest.mark.parametrize("name", ["loss.tif", "picture.zip", "outlines.geojson"])
def test_what_is_not_worked_out_cannot_be_taken_away(name: str, client: Client, hill_relay: Relay) -> None:
    assert client.get(f"/map/slope-2m/{name}").status_code == 404
    assert client.get(f"/map/no-such-relay/{name}").status_code == 404


def test_the_outlines_of_all_together_hold_each_ones_own(
    client: Client, done_run: CoverageRun, other_relay: Relay
) -> None:
    def area(address: str) -> float:
        found = json.loads(client.get(address).content)
        usable = next(f for f in found["features"] if f["properties"]["verdict"] == "usable or better")
        rings = [ring for polygon in usable["geometry"]["coordinates"] for ring in polygon]
        return sum(signed_area(ring) for ring in rings)

    working.compute(runs.ask(other_relay, now=NOW).pk, clock=lambda: NOW)
    alone = [
        area(f"/map/{slug}/outlines.geojson?radio=handheld_indoors") for slug in ("slope-2m", "hollow-70cm")
    ]
    both = area("/map/together/outlines.geojson?radio=handheld_indoors")
    assert max(alone) <= both <= sum(alone) + 1e-9


def test_the_picture_of_all_together_shows_the_best_of_each(
    client: Client, done_run: CoverageRun, other_relay: Relay
) -> None:
    def solid(slug: str) -> int:
        content = client.get(f"/map/{slug}/picture.zip?radio=handheld_in_hand").content
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            name = next(each for each in archive.namelist() if each.endswith(".png"))
            pixels = np.asarray(Image.open(io.BytesIO(archive.read(name))))
        return int((pixels == COLOURS[0]).all(axis=-1).sum())

    working.compute(runs.ask(other_relay, now=NOW).pk, clock=lambda: NOW)
    alone = [solid("slope-2m"), solid("hollow-70cm")]
    assert max(alone) <= solid("together") <= sum(alone)
    assert solid("together") > max(alone)


def test_no_loss_is_common_to_several_relays(client: Client, done_run: CoverageRun) -> None:
    assert client.get("/map/together/loss.tif").status_code == 404


def test_outlines_say_how_far_the_ground_is_known(client: Client, done_run: CoverageRun) -> None:
    found = json.loads(client.get("/map/slope-2m/outlines.geojson").content)
    assert found["features"]
    assert all(feature["properties"]["known_ground"] for feature in found["features"])


def test_an_unknown_radio_has_no_outlines(client: Client, done_run: CoverageRun) -> None:
    assert client.get("/map/slope-2m/outlines.geojson?radio=megaphone").status_code == 404


def test_the_raster_file_is_read_by_its_georeference(done_run: CoverageRun) -> None:
    with rasterio.open(done_run.raster.path) as file:
        assert file.bounds.left == pytest.approx(-84.0)
        assert file.bounds.top == pytest.approx(36.0)
