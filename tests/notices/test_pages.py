"""Pages about notices: stop, choose, answer by link, health."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from clubops.members.models import Member
from clubops.notices import choices, health
from clubops.notices.models import Choice, Notice
from nets.models import Duty, Session
from nets.reminders import answers
from tests.conftest import NOW, Cast
from tests.notices.test_duty_reminders import give

MINUTE = dt.timedelta(minutes=1)


def path_of(url: str) -> str:
    return "/" + url.split("/", 3)[3]


@pytest.fixture
def stop_path(cast: Cast) -> str:
    return path_of(choices.unsubscribe_url(cast.member))


def wants(member: Member) -> bool:
    return Member.objects.get(pk=member.pk).wants_reminders


def test_looking_at_the_link_stops_nothing(client, cast: Cast, stop_path):
    """Mail scanners follow every link; RFC 8058 section 3.2 leaves the deed to a POST."""
    assert b"Stop all reminders" in client.get(stop_path).content
    client.head(stop_path)
    assert wants(cast.member)


def test_one_click_stops_reminders_without_cookie_or_login(client, cast: Cast, stop_path):
    client.handler.enforce_csrf_checks = True
    response = client.post(
        stop_path, "List-Unsubscribe=One-Click", content_type="application/x-www-form-urlencoded"
    )
    assert (response.status_code, wants(cast.member)) == (200, False)


def test_stopping_can_be_undone(client, cast: Cast, stop_path):
    client.post(stop_path)
    client.post(stop_path, {"again": "yes"})
    assert wants(cast.member)


def test_stopping_stops_nobody_else(client, cast: Cast, stop_path):
    client.post(stop_path)
    assert wants(cast.net_control)


@pytest.mark.parametrize("token", ["1", "1:forged", "x:y", "999999:abc"])
def test_a_forged_link_stops_nothing(client, cast: Cast, token):
    assert client.post(reverse("notices:unsubscribe", args=[token])).status_code == 404
    assert all(wants(each) for each in (cast.member, cast.net_control, cast.officer))


def test_the_link_names_nobody_and_is_not_indexed(client, cast: Cast, stop_path):
    assert cast.member.call_sign not in stop_path
    response = client.get(stop_path)
    assert cast.member.call_sign.encode() not in response.content
    assert (response["X-Robots-Tag"], response["Referrer-Policy"]) == ("noindex", "no-referrer")


# The answer by link ----------------------------------------------------------------------------------


@pytest.fixture
def duty(session: Session, cast: Cast) -> Duty:
    return give(session, cast.net_control)


@pytest.fixture
def at_now():
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def answer_path(duty: Duty) -> str:
    return path_of(answers.url_for(duty))


def state_of(duty: Duty) -> str:
    return Duty.objects.get(pk=duty.pk).state


def test_opening_the_answer_link_answers_nothing(client, duty, at_now):
    assert b"Will you be there?" in client.get(answer_path(duty)).content
    assert state_of(duty) == Duty.State.ASSIGNED


@pytest.mark.parametrize(("said", "state"), [("yes", Duty.State.CONFIRMED), ("no", Duty.State.DECLINED)])
def test_the_buttons_answer(client, duty, at_now, said, state):
    assert client.post(answer_path(duty), {"answer": said}).status_code == 200
    assert state_of(duty) == state


def test_an_answer_may_be_changed(client, duty, at_now):
    for said in ("no", "yes"):
        client.post(answer_path(duty), {"answer": said})
    assert state_of(duty) == Duty.State.CONFIRMED


def test_an_answer_needs_the_form_of_its_page(duty, at_now, client):
    client.handler.enforce_csrf_checks = True
    assert client.post(answer_path(duty), {"answer": "yes"}).status_code == 403


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda duty: duty.delete(), "no longer yours"),
        (lambda duty: Session.objects.update(state=Session.State.CANCELLED), "called off"),
        (lambda duty: Session.objects.update(starts_at=NOW - MINUTE), "has begun"),
    ],
)
def test_a_link_with_nothing_to_answer_says_so(client, duty, at_now, change, sentence):
    path = answer_path(duty)
    change(duty)
    response = client.post(path, {"answer": "yes"})
    assert response.status_code == 410
    assert sentence in response.content.decode()


def test_a_link_of_the_holder_before_answers_nothing(client, duty, at_now, cast: Cast):
    path = answer_path(duty)
    Duty.objects.filter(pk=duty.pk).update(member=cast.member)
    assert client.post(path, {"answer": "no"}).status_code == 410
    assert state_of(duty) == Duty.State.ASSIGNED


def test_an_old_link_expires(client, duty, at_now):
    path = answer_path(duty)
    Session.objects.update(starts_at=NOW + dt.timedelta(days=810), ends_at=NOW + dt.timedelta(days=811))
    at_now.move_to(NOW + dt.timedelta(days=801))
    response = client.post(path, {"answer": "yes"})
    assert (response.status_code, b"has expired" in response.content) == (410, True)


def test_a_forged_answer_link_is_unknown(client, duty, at_now):
    assert (
        client.post(reverse("nets:answer_by_link", args=["WzEsMV0:x:y"]), {"answer": "no"}).status_code == 404
    )


# What is coming --------------------------------------------------------------------------------------


def coming_notice(member: Member, **given) -> Notice:
    fields = {
        "key": "coming",
        "kind": "duty_reminder",
        "title": "Net control, Ridge Net",
        "message_id": "<x@x>",
        "due_at": timezone.now() + dt.timedelta(days=1),
        "not_after": timezone.now() + dt.timedelta(days=2),
    } | given
    return Notice.objects.create(recipient=member, next_try_at=fields["due_at"], **fields)


def test_my_page_says_what_is_coming(as_reader, cast: Cast):
    coming_notice(cast.member)
    page = as_reader("member").get(reverse("notices:mine")).content.decode()
    assert "Net control, Ridge Net" in page
    assert "Reminder of a duty" in page


def test_my_entry_on_the_roster_says_it_too(as_reader, cast: Cast):
    for number in range(7):
        coming_notice(cast.member, key=f"{number}", message_id=f"{number}", title=f"about {number}.")
    page = as_reader("member").get(reverse("members:me")).content.decode()
    assert [number for number in range(7) if f"about {number}." in page] == [0, 1, 2, 3, 4]
    assert "2 more, what was sent, and your choices" in page


def test_my_page_shows_nothing_of_others(as_reader, cast: Cast):
    coming_notice(cast.net_control)
    assert "Ridge Net" not in as_reader("member").get(reverse("notices:mine")).content.decode()


def test_my_choices_are_kept(as_reader, cast: Cast):
    given = {"wanted": ["duty_reminder"], "quiet_from": "21:00", "quiet_until": "08:00"}
    assert as_reader("member").post(reverse("notices:mine"), given).status_code == 302
    choice = Choice.objects.get(member=cast.member)
    assert (choice.one_mail, choice.quiet_from) == (False, dt.time(21))
    assert "duty_reminder" not in choice.unwanted
    assert "duty_change" in choice.unwanted


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"quiet_from": "21:00"}, "Give both ends of your quiet hours, or leave both empty."),
        ({"quiet_from": "21:00", "quiet_until": "21:00"}, "They would begin and end at 21:00"),
    ],
)
def test_choices_that_make_no_sense_are_refused_with_a_sentence(as_reader, cast: Cast, given, sentence):
    response = as_reader("member").post(reverse("notices:mine"), given)
    assert response.status_code == 422
    assert sentence in response.content.decode()


# Health ----------------------------------------------------------------------------------------------


def beats(*, sending=0, planning=0) -> None:
    health.beat(health.SENDING, now=timezone.now() - sending * MINUTE)
    health.beat(health.PLANNING, now=timezone.now() - planning * MINUTE)


def test_all_is_well_when_both_jobs_ran_lately(client, db):
    beats()
    assert client.get(reverse("health")).status_code == 200
    assert client.get(reverse("health"), {"format": "json"}).json()["well"] is True


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"sending": 6}, "Sending has not run for 6 minutes: the beat, the broker or the worker is down."),
        (
            {"planning": 31},
            "Planning has not run for 31 minutes: the beat, the broker or the worker is down.",
        ),
        ({"sending": -10}, "in the future: a clock was or is wrong."),
    ],
)
def test_a_silent_job_is_said_plainly(client, db, given, sentence):
    beats(**given)
    response = client.get(reverse("health"))
    assert response.status_code == 503
    assert sentence in response.content.decode()
    with pytest.raises(CommandError, match=sentence.split(":")[0][:20]):
        call_command("check_club")


def test_a_site_that_never_ran_a_job_says_so(client, db):
    assert "Sending has never run" in client.get(reverse("health")).content.decode()


def test_an_old_due_notice_is_a_trouble(client, cast: Cast):
    beats()
    coming_notice(cast.member, due_at=timezone.now() - 20 * MINUTE)
    assert "ready to go for 20 minutes" in client.get(reverse("health")).content.decode()


def test_the_health_page_names_nobody_and_hides_what_the_mail_server_said(client, cast: Cast):
    coming_notice(cast.member)
    health.beat(health.SENDING, now=timezone.now(), problem="535 user club@secret.example unknown")
    page = client.get(reverse("health")).content.decode() + str(client.get("/health/?format=json").json())
    assert "The mail server cannot be reached" in page
    assert "secret" not in page
    assert cast.member.call_sign not in page


def test_the_command_says_that_all_is_well(db, capsys):
    beats()
    call_command("check_club")
    assert "Everything runs." in capsys.readouterr().out
