"""The frame around every page: navigation by role, pages that say what went wrong, logging in."""

import re

import pytest
from django.test import Client
from django.urls import reverse

WORDS = {
    "outsider": ["Home", "Nets", "Relays", "Map", "Check a path", "Log in"],
    "member": ["Home", "Nets", "Rota", "Relays", "Map", "Check a path", "Upkeep", "My duties", "Log out"],
    "officer": [
        "Home",
        "Nets",
        "Rota",
        "Relays",
        "Map",
        "Check a path",
        "Upkeep",
        "My duties",
        "Office",
        "Log out",
    ],
}


def navigation(client, address="/cautions/"):
    page = client.get(address).content.decode()
    return re.search(r'<nav class="main-nav".*?</nav>', page, re.DOTALL).group()


@pytest.mark.parametrize(("who", "words"), WORDS.items())
def test_the_navigation_offers_what_a_reader_can_use(as_reader, who, words):
    items = re.findall(r"<li.*?</li>", navigation(as_reader(who)), re.DOTALL)
    assert [re.sub(r"<[^>]+>", "", item).strip() for item in items] == words


def test_every_word_of_the_navigation_leads_somewhere(as_reader):
    officer = as_reader("officer")
    for address in re.findall(r'href="([^"]+)"', navigation(officer)):
        assert officer.get(address).status_code == 200, address


@pytest.mark.parametrize(
    ("address", "marked"),
    [("/", ["Home"]), ("/relays/", ["Relays"]), ("/relays/ridge-2m/", ["Relays"]), ("/cautions/", [])],
)
def test_the_navigation_marks_where_one_is(client, relay, address, marked):
    assert re.findall(r'aria-current="\w+">([^<]+)', navigation(client, address)) == marked


def test_a_member_finds_their_own_page_in_the_masthead(as_reader):
    page = as_reader("member").get("/cautions/").content.decode()
    assert re.search(rf'href="{reverse("members:me")}">QZ2MEM', page)


def test_the_content_policy_stays_strict(client, db):
    policy = client.get("/cautions/").headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "unsafe" not in policy


def test_an_address_that_is_nothing_gets_a_page_with_ways_on(client, db):
    response = client.get("/no-such-leaf/")
    assert response.status_code == 404
    assert "Nothing is written on this page" in response.content.decode()
    assert reverse("relays:list") in response.content.decode()


def test_a_form_without_its_mark_is_refused_with_a_reason(db):
    response = Client(enforce_csrf_checks=True).post("/login/", {"username": "x", "password": "y"})
    assert response.status_code == 403
    assert "Nothing was changed" in response.content.decode()


def test_a_forbidden_page_gives_its_reason_and_says_whom_to_ask(client, cast, settings):
    cast.member.is_active = False
    cast.member.save()
    client.force_login(cast.member.user)
    response = client.get(reverse("members:me"))
    assert response.status_code == 403
    assert "no entry on the roster" in response.content.decode()
    assert settings.CLUB_CONTACT in response.content.decode()


def test_a_host_we_do_not_serve_gets_a_plain_page(client):
    response = client.get("/", headers={"host": "elsewhere.example"})
    assert response.status_code == 400
    assert "could not be read" in response.content.decode()


def test_a_wrong_password_is_a_sentence_at_the_top(client, cast):
    page = client.post("/login/", {"username": "member", "password": "wrong"}).content.decode()
    assert "One thing is in the way" in page
    assert "<title>Problem: Log in" in page


def test_the_login_page_says_why_one_was_sent_there(client, db):
    page = client.get(f"/login/?next={reverse('nets:my_duties')}").content.decode()
    assert "The page you asked for is for members." in page


def test_after_too_many_wrong_passwords_one_is_told_to_wait(client, cast, settings):
    settings.AXES_ENABLED = True
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = client.post("/login/", {"username": "member", "password": "wrong"})
    assert response.status_code == 429
    assert "15\N{NO-BREAK SPACE}minutes" in response.content.decode()


def test_a_member_changes_their_password(as_reader, cast):
    client = as_reader("member")
    new = {"old_password": "pass", "new_password1": "lantern-on-a-hill", "new_password2": "lantern-on-a-hill"}
    response = client.post(reverse("password_change"), new, follow=True)
    assert "The password is changed" in response.content.decode()
    cast.member.user.refresh_from_db()
    assert cast.member.user.check_password("lantern-on-a-hill")


def test_the_cautions_defer_to_local_codes(client, db):
    page = client.get("/cautions/").content.decode()
    assert "Local codes, the law and licensed practice decide" in page
    assert "Nobody climbs alone, at any height." in page
