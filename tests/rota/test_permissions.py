"""Who may open and do what: every address of the rota and of swaps, for every kind of reader."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import get_resolver, reverse

from clubops.members.models import Member
from nets import swaps
from nets.models import Duty, Net, RotaDraft
from nets.rota import draft as drafts
from nets.web import rota_urls
from tests.conftest import NOW
from tests.rota.conftest import give, session_on

pytestmark = pytest.mark.django_db

READERS = ("outsider", "member", "net control", "steward", "net manager", "officer")
MEMBERS = {"member", "net control", "steward", "net manager", "officer"}
MANAGERS = {"net manager", "officer"}
HOLDER = {"net control"}

# address -> how it is asked, and who is let in. The net control holds the turn in question.
MATRIX: dict[str, tuple[str, set[str]]] = {
    "rota": ("get", MEMBERS),
    "rota_wishes": ("get", MEMBERS),
    "rota_fill": ("post", MANAGERS),
    "rota_drafts": ("get", MANAGERS),
    "rota_draft": ("get", MANAGERS),
    "rota_publish": ("post", MANAGERS),
    "rota_discard": ("post", MANAGERS),
    "swaps": ("get", MEMBERS),
    "swap_offer": ("get", HOLDER),
    "swap_settle": ("post", MEMBERS),
    "swap_substitutes": ("get", HOLDER | MANAGERS),
    "swap_hand_over": ("post", MANAGERS),
}


@pytest.fixture
def turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    return give(session_on(net, 3, 10), "net_control", volunteers["control"])


@pytest.fixture
def address(net: Net, turn: Duty, volunteers: dict[str, Member]) -> Callable[[str], str]:
    """The address of a page about rows that exist."""
    draft = drafts.ask(RotaDraft(net=net, weeks=1), by=None, now=NOW)
    drafts.work_out(draft, now=NOW)
    keys = {
        "rota_draft": draft.pk,
        "rota_publish": draft.pk,
        "rota_discard": draft.pk,
        "swap_offer": turn.pk,
        "swap_settle": swaps.offer(turn, now=NOW).pk,
        "swap_substitutes": turn.pk,
        "swap_hand_over": turn.pk,
    }
    return lambda name: reverse(f"nets:{name}", args=[keys[name]] if name in keys else [])


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("name", MATRIX)
def test_each_address_lets_in_whom_it_should(
    name: str,
    reader: str,
    address: Callable[[str], str],
    volunteers: dict[str, Member],
    as_reader: Callable[[str], Client],
) -> None:
    method, allowed = MATRIX[name]
    data = {"answer": "withdraw", "member": str(volunteers["third"].pk)}
    with time_machine.travel(NOW, tick=False):
        response = getattr(as_reader(reader), method)(address(name), data)
    if reader in allowed:
        assert response.status_code in {200, 302}
        assert "/login/" not in response.get("Location", "")
    elif reader == "outsider":
        assert response.status_code == 302
        assert response["Location"].startswith("/login/?next=")
    else:
        # A turn of somebody else's is not there to be offered: 404 tells less than 403.
        assert response.status_code == (404 if name == "swap_offer" else 403)


@pytest.mark.parametrize("name", [name for name, (method, _who) in MATRIX.items() if method == "post"])
def test_what_changes_something_is_not_done_by_a_get(
    name: str, address: Callable[[str], str], as_reader: Callable[[str], Client]
) -> None:
    assert as_reader("officer").get(address(name)).status_code == 405


def test_no_address_is_left_out_of_the_matrix() -> None:
    assert {pattern.name for pattern in rota_urls.urlpatterns} == set(MATRIX)
    assert get_resolver().resolve("/rota/").url_name == "rota"


def test_a_post_without_its_token_is_refused(address: Callable[[str], str], cast: object) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.officer.user)
    assert client.post(address("rota_publish")).status_code == 403
