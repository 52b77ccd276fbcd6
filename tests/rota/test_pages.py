"""The pages of the rota say what is so, and do what their buttons say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.models import Notice
from clubops.templatetags.measures import whole_date
from nets import duties, schedule, swap_letters, swaps
from nets.models import Absence, Duty, Net, RotaDraft, SwapOffer, TurnWish
from nets.rota import draft as drafts
from nets.rota import publishing
from tests.conftest import NOW, Cast, make_member
from tests.rota.conftest import give, held, session_on

pytestmark = pytest.mark.django_db

Reader = Callable[[str], Client]


@pytest.fixture(autouse=True)
def _today() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def page(client: Client, name: str, *args: object, **data: str) -> str:
    response = client.post(reverse(name, args=args), data) if data else client.get(reverse(name, args=args))
    return response.content.decode()


# The published rota --------------------------------------------------------------------------------


def test_the_rota_names_both_chairs_and_who_has_confirmed(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["officer"], state=Duty.State.CONFIRMED)
    text = page(as_reader("member"), "nets:rota")
    assert "3 March 2026" in text
    assert 'QZ2OFF</b> <span class="quiet">confirmed' in text
    assert "nobody yet" in text


def test_the_rota_says_why_a_chair_is_empty(net: Net, unheard: Member, as_reader: Reader) -> None:
    Member.objects.exclude(pk=unheard.pk).update(takes_the_chair=False)
    Member.objects.get(call_sign="QZ2NCS").user.groups.clear()
    publishing.fill(net, now=NOW, weeks=1)
    assert "Nobody who takes the chair has a usable path on 3 March: QZ2LOW" in page(
        as_reader("member"), "nets:rota"
    )


def test_a_declined_chair_is_empty_and_says_who_declined(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["officer"], state=Duty.State.DECLINED)
    assert "QZ2OFF declined; nobody else has been found yet." in page(as_reader("member"), "nets:rota")


def test_turns_stand_beside_fair_shares(net: Net, volunteers: dict[str, Member], as_reader: Reader) -> None:
    publishing.fill(net, now=NOW)
    text = page(as_reader("member"), "nets:rota")
    assert "a fair share" in text
    assert '<td class="num" data-label="Fair share">9.0</td>' in text


def test_no_page_of_the_rota_shows_where_anybody_lives(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    publishing.fill(net, now=NOW)
    station = volunteers["officer"].stations.get()
    duty = Duty.objects.filter(member=volunteers["officer"]).first()
    for name, args in (("nets:rota", []), ("nets:rota_drafts", []), ("nets:swap_substitutes", [duty.pk])):
        text = page(as_reader("net manager"), name, *args)
        assert f"{station.latitude_deg:.3f}" not in text


def test_the_button_fills_the_empty_chairs(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    response = as_reader("net manager").post(reverse("nets:rota_fill"), {"net": net.slug}, follow=True)
    assert "24 chairs filled." in response.content.decode()
    assert Duty.objects.count() == 24


# Drafts --------------------------------------------------------------------------------------------


ASKED = {"net": "", "weeks": "12", "minimum_gap_days": "7", "most_turns": ""}


def test_a_manager_makes_compares_and_publishes_a_draft(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    client = as_reader("net manager")
    response = client.post(reverse("nets:rota_drafts"), ASKED, follow=True)
    text = response.content.decode()
    assert "Draft: every net" in text
    assert "Proven the best there is" in text
    assert text.count("newly filled") == 24
    draft = RotaDraft.objects.get()
    assert draft.made_by.call_sign == "QZ2MGR"
    text = client.post(reverse("nets:rota_publish", args=[draft.pk]), follow=True).content.decode()
    assert "This is the rota now." in text
    assert Duty.objects.count() == 24


def test_a_refused_draft_says_what_changed(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW)
    drafts.work_out(draft, now=NOW)
    Absence.objects.create(
        member=volunteers["officer"], first_date=dt.date(2026, 3, 10), last_date=dt.date(2026, 3, 10)
    )
    response = as_reader("net manager").post(reverse("nets:rota_publish", args=[draft.pk]))
    assert response.status_code == 409
    assert "QZ2OFF is away until 10 March (Ridge Net on 10 March)." in response.content.decode()
    assert not Duty.objects.exists()


def test_a_draft_thrown_away_changes_nothing(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW)
    drafts.work_out(draft, now=NOW)
    text = as_reader("net manager").post(reverse("nets:rota_discard", args=[draft.pk]), follow=True)
    assert "The rota is as it was." in text.content.decode()
    assert not Duty.objects.exists()


def test_a_draft_at_work_says_so_and_looks_again(net: Net, as_reader: Reader) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW, claimed=True)
    RotaDraft.objects.update(progress="fairness")
    response = as_reader("net manager").get(reverse("nets:rota_draft", args=[draft.pk]))
    assert response["Refresh"] == "3"
    assert "sharing the turns fairly" in response.content.decode()


def test_a_long_draft_is_left_to_a_worker(
    net: Net, as_reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drafts, "AT_ONCE", 0)
    as_reader("net manager").post(reverse("nets:rota_drafts"), ASKED)
    assert RotaDraft.objects.get().state == RotaDraft.State.WAITING


@pytest.mark.parametrize(
    ("field", "value"),
    [("weeks", "7"), ("minimum_gap_days", "0"), ("minimum_gap_days", "93"), ("most_turns", "27")],
)
def test_a_draft_that_cannot_be_meant_is_refused(net: Net, as_reader: Reader, field: str, value: str) -> None:
    response = as_reader("net manager").post(reverse("nets:rota_drafts"), ASKED | {field: value})
    assert response.status_code == 422
    assert not RotaDraft.objects.exists()


def test_a_rota_that_ran_out_of_time_says_what_is_open(net: Net, as_reader: Reader) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW, claimed=True)
    stages = [
        {"aim": "empty chairs", "objective": 1, "bound": 1, "seconds": 1.0},
        {"aim": "fairness", "objective": 200, "bound": 190, "seconds": 19.0},
    ]
    RotaDraft.objects.update(state=RotaDraft.State.READY, stages=stages)
    text = page(as_reader("net manager"), "nets:rota_draft", draft.pk)
    assert "Worked out in 20.0 s. The time ran out" in text
    assert "fairness, which might improve by at most 5.0 %" in text


# Wishes --------------------------------------------------------------------------------------------


def test_a_member_says_how_often(cast: Cast, as_reader: Reader) -> None:
    as_reader("member").post(reverse("nets:rota_wishes"), {"most_turns": "2", "minimum_gap_days": "14"})
    wish = TurnWish.objects.get()
    assert (wish.member, wish.most_turns, wish.minimum_gap_days) == (cast.member, 2, 14)


def test_a_wish_that_cannot_be_meant_is_refused(as_reader: Reader) -> None:
    response = as_reader("member").post(
        reverse("nets:rota_wishes"), {"most_turns": "99", "minimum_gap_days": "0"}
    )
    assert response.status_code == 422
    assert not TurnWish.objects.exists()


# Swaps ---------------------------------------------------------------------------------------------


@pytest.fixture
def turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    """The net control is net control on 10 March."""
    return give(session_on(net, 3, 10), "net_control", volunteers["control"])


def test_a_turn_is_offered_and_taken(net: Net, turn: Duty, as_reader: Reader) -> None:
    as_reader("net control").post(reverse("nets:swap_offer", args=[turn.pk]), {"note": "I am on the road."})
    officer = as_reader("officer")
    assert "I am on the road." in page(officer, "nets:swaps")
    offer = SwapOffer.objects.get()
    text = officer.post(reverse("nets:swap_settle", args=[offer.pk]), {"answer": "accept"}, follow=True)
    assert "The turn is yours, and confirmed." in text.content.decode()
    assert held(net) == {(dt.date(2026, 3, 10), "net_control"): "QZ2OFF"}


def test_a_turn_in_return_names_the_person_asked(
    net: Net, turn: Duty, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    back = give(session_on(net, 3, 17), "backup", volunteers["third"])
    as_reader("net control").post(reverse("nets:swap_offer", args=[turn.pk]), {"in_return": str(back.pk)})
    assert SwapOffer.objects.get().offered_to == volunteers["third"]


def test_an_offer_that_cannot_be_made_says_why(turn: Duty, as_reader: Reader) -> None:
    client = as_reader("net control")
    response = client.post(reverse("nets:swap_offer", args=[turn.pk]), {"last_day": "2026-03-01"})
    assert response.status_code == 422
    assert "choose a later time" in response.content.decode()


def test_an_offer_stays_open_to_the_end_of_its_last_day(turn: Duty, as_reader: Reader) -> None:
    """The member's own day: 5 March ends in New York at 05:00 UTC on the 6th."""
    as_reader("net control").post(reverse("nets:swap_offer", args=[turn.pk]), {"last_day": "2026-03-05"})
    assert SwapOffer.objects.get().expires_at == dt.datetime(2026, 3, 6, 5, tzinfo=dt.UTC)


def test_a_refused_taking_says_why(turn: Duty, as_reader: Reader) -> None:
    """The member is not among those who take the chair."""
    offer = swaps.offer(turn, now=NOW)
    text = as_reader("member").post(
        reverse("nets:swap_settle", args=[offer.pk]), {"answer": "accept"}, follow=True
    )
    assert "QZ2MEM is not down as taking the chair" in text.content.decode()


def test_the_whole_rota_is_one_link_further(
    net: Net, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    schedule.plan_sessions(net, now=NOW, weeks=30)
    client, last = as_reader("member"), net.sessions.last()
    assert "Show the whole rota" not in page(client, "nets:rota")
    give(last, "net_control", volunteers["control"])
    short = page(client, "nets:rota")
    whole = client.get(reverse("nets:rota") + "?show=all").content.decode()
    assert "Show the whole rota" in short
    day = whole_date(last.occurrence_date)
    assert (f">{day}</a>" in short, f">{day}</a>" in whole) == (False, True)


def test_the_person_asked_by_name_is_told_by_mail(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, to=volunteers["third"], note="Please.", now=NOW)
    notice = Notice.objects.get(kind=swap_letters.KIND)
    letter = kinds.named(notice.kind).render(notice, NOW)
    assert notice.recipient == volunteers["third"]
    assert letter.subject == "QZ2NCS offers you a turn: Ridge Net, 10 Mar"
    assert ("They write", "Please.") in letter.facts
    swaps.withdraw(offer, by=turn.member, now=NOW)
    with pytest.raises(kinds.Untrue):
        kinds.named(notice.kind).render(notice, NOW)


def test_an_offer_to_anybody_is_mailed_to_nobody(turn: Duty) -> None:
    swaps.offer(turn, now=NOW)
    assert not Notice.objects.filter(kind=swap_letters.KIND).exists()


def test_the_manager_gives_the_turn_to_a_stand_in(
    net: Net, turn: Duty, volunteers: dict[str, Member], as_reader: Reader
) -> None:
    client = as_reader("net manager")
    assert "Free; the path is solid" in page(client, "nets:swap_substitutes", turn.pk)
    client.post(reverse("nets:swap_hand_over", args=[turn.pk]), {"member": str(volunteers["third"].pk)})
    duty = Duty.objects.get()
    assert (duty.member, duty.state) == (volunteers["third"], Duty.State.ASSIGNED)


def test_the_manager_cannot_give_it_to_somebody_unheard(
    turn: Duty, unheard: Member, as_reader: Reader
) -> None:
    client = as_reader("net manager")
    address = reverse("nets:swap_hand_over", args=[turn.pk])
    text = client.post(address, {"member": str(unheard.pk)}, follow=True).content.decode()
    assert "QZ2LOW cannot be put in the chair: the path" in text
    assert Duty.objects.get().member.call_sign == "QZ2NCS"


def test_a_declined_turn_leaves_a_trace_for_the_next_rota(net: Net, turn: Duty) -> None:
    duties.answer(turn, confirmed=False, now=NOW)
    publishing.fill(net, now=NOW, weeks=2)
    evening = session_on(net, 3, 10)
    assert evening.duties.get(role="net_control").member.call_sign != "QZ2NCS"
    assert evening.refusals.get().member.call_sign == "QZ2NCS"


def test_a_name_cannot_break_the_page(turn: Duty, as_reader: Reader) -> None:
    make_member("QZ2EVL", name="<script>alert(1)</script>", takes_the_chair=True)
    text = page(as_reader("net control"), "nets:swap_offer", turn.pk)
    assert "&lt;script&gt;alert(1)" in text
    assert "<script>alert" not in text
