"""The furniture of a page: what it says, to whom, and what the content policy would refuse."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django import forms
from django.template.loader import render_to_string

from clubops.templatetags.furniture import ruler_cells

ROOT = Path(__file__).parents[2]
TEMPLATES = sorted(page for app in ("clubops", "relays", "nets") for page in (ROOT / app).rglob("*.html"))
REFUSED = re.compile(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=|https?://(?!www\.w3\.org)")
TUESDAY_EVENING = datetime(2026, 3, 4, 0, 30, tzinfo=UTC)
STATES = {
    "solid": "solid",
    "usable": "usable",
    "marginal": "marginal",
    "not_usable": "not usable",
    "stale": "out of date",
    "not_computed": "not worked out",
}


def draw(name, **context):
    return render_to_string(f"components/{name}.html", context)


def words(html):
    """The text a person reads or hears, spaces folded."""
    return " ".join(re.sub(r"<[^>]+>", " ", html).replace("\N{NO-BREAK SPACE}", " ").split())


class HeightForm(forms.Form):
    height_m = forms.FloatField(label="Antenna height", min_value=1, help_text="Metres, 1 to 3000.")
    name = forms.CharField(label="Name", required=False)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_template_holds_what_the_content_policy_refuses(path):
    assert not REFUSED.search(path.read_text())


@pytest.mark.parametrize(("state", "word"), STATES.items())
def test_a_verdict_is_a_word_beside_its_colour(state, word):
    html = draw("verdict", state=state)
    assert words(html) == word
    assert f"verdict-{state}" in html


def test_no_two_verdicts_share_a_shape():
    shapes = {re.search(r"<svg.*</svg>", draw("verdict", state=state), re.DOTALL).group() for state in STATES}
    assert len(shapes) == len(STATES)


def test_an_unknown_verdict_claims_nothing():
    assert words(draw("verdict")) == "not worked out"


@pytest.mark.parametrize(
    ("margin_db", "over", "under"),
    [
        (0.0, 0, 0),
        (None, 0, 0),
        (0.2, 1, 0),
        (-0.2, 0, 1),
        (10.0, 4, 0),
        (-10.0, 0, 4),
        (90.0, 16, 0),
        (-90.0, 0, 8),
    ],
)
def test_the_ruler_inks_from_nought_to_the_margin(margin_db, over, under):
    cells = " ".join(ruler_cells(margin_db)).split()
    assert (cells.count("over"), cells.count("under")) == (over, under)


def test_the_ruler_marks_what_is_asked_for():
    assert [at for at, cell in enumerate(ruler_cells(3.0, 6.0)) if "need" in cell] == [10]


def test_an_agenda_item_gives_both_times_and_names_the_day_in_utc():
    html = draw("agenda_item", starts_at=TUESDAY_EVENING, zone="America/New_York", title="Evening net")
    assert words(html) == "Tue 3 Mar Evening net 19:30 New York time 00:30 UTC Wednesday"
    assert 'datetime="2026-03-04T00:30Z"' in html


def test_a_session_that_is_called_off_says_so_in_words():
    html = draw("agenda_item", starts_at=TUESDAY_EVENING, zone="UTC", title="Net", called_off=True)
    assert "Called off." in words(html)


@pytest.mark.parametrize(
    ("level", "word"),
    [("error", "Problem."), ("success", "Done."), ("warning", "Caution."), ("info", "Note.")],
)
def test_a_notice_names_its_kind(level, word):
    assert words(draw("notice", kind=level, text="Saved.")) == f"{word} Saved."


def test_a_notice_does_not_trust_its_text():
    assert "<b>loud" not in draw("notice", kind="info", text="<b>loud</b>")


def test_a_wrong_field_is_named_at_the_top_and_beside_itself():
    html = str(HeightForm({"height_m": "-3"}))
    assert "One thing is in the way" in html
    assert '<a href="#id_height_m">Antenna height:' in html
    assert 'id="id_height_m_error"' in html
    assert re.search(r'aria-describedby="id_height_m_helptext id_height_m_error"', html)


def test_a_form_that_is_right_shows_no_problems():
    assert "form-problems" not in str(HeightForm({"height_m": "3"}))


def test_a_field_that_may_stay_empty_is_marked():
    assert words(str(HeightForm()["name"].as_field_group())).startswith("Name (optional)")


def test_a_secret_address_can_be_selected_without_script():
    html = draw("secret", field_id="feed", label="Calendar", address="https://club.example/c/abc.ics")
    assert 'readonly value="https://club.example/c/abc.ics"' in html
    assert re.search(r"<button[^>]*\shidden>", html)


def test_the_page_of_last_resort_needs_no_context():
    html = render_to_string("500.html")
    assert "Something broke on our side" in html
    assert "/static/clubops/page.css" in html
