"""Everybody is written to in their own language, and no word of it is missing."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from babel.messages.catalog import Message
from django.conf import settings as site
from django.core import mail as outgoing
from django.test import TestCase
from django.urls import reverse
from django.utils import translation

from clubops.management.commands import translations
from clubops.members.models import Member
from clubops.notices import checks, delivery, kinds, languages, mail, reasons
from clubops.notices.kinds import Letter
from clubops.notices.models import Choice, Notice
from clubops.notices.policy import Policy
from clubops.templatetags.measures import wall_time, whole_date
from nets import feeds, invites, schedule, spoken, swap_letters, swaps
from nets.models import Duty, Session, SwapOffer
from nets.reminders import outages, wishes
from relays import outages as relay_outages
from relays.outages import Terms
from relays.propagation import verdicts
from relays.upkeep import wishes as upkeep
from tests.conftest import NOW, Cast, make_station
from tests.notices.conftest import TestClock
from tests.notices.test_duty_reminders import give
from tests.upkeep.conftest import make_task, read

LANGUAGES = ["de"]
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
# Words that no German sentence has; those that both languages write alike are left out.
ENGLISH = re.compile(
    r"\b(the|you|your|yours|please|of|is|are|was|not|has|have|had|been|that|this|with|they|them|until|when|where|"
    r"whether|and|or|to|be|due|days?|by|for|no|more|from|who|what|if|it|its|at|on|never|every|time|reminders?|"
    r"session|turn|chair|nobody|limit|readings?|today|within|below|above)\b",
    re.IGNORECASE,
)


# The catalogues --------------------------------------------------------------------------------------


def messages(code: str) -> dict[tuple, Message]:
    return {(each.context, each.id): each for each in translations.load(code) if each.id}


@pytest.fixture(scope="module")
def said() -> set[tuple]:
    """Every message in the code."""
    return {(each.context, each.id) for each in translations.gather() if each.id}


def test_every_language_but_the_first_has_a_catalogue():
    assert [code for code, _name in site.LANGUAGES[1:]] == LANGUAGES


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_message_lacks_a_translation_and_none_is_left_over(code, said):
    found = messages(code)
    assert said
    assert set(found) == said
    assert not [key for key, each in found.items() if not translations.is_translated(each) or each.fuzzy]


@pytest.mark.parametrize("code", LANGUAGES)
def test_placeholders_agree(code):
    def names(text: str) -> set[str]:
        return set(re.findall(r"%\((\w+)\)s", text))

    for each in messages(code).values():
        ids = each.id if isinstance(each.id, tuple) else (each.id,)
        texts = each.string if isinstance(each.string, tuple) else (each.string,)
        assert {frozenset(names(text)) for text in texts} <= {frozenset(names(text)) for text in ids}
        assert all(text.count("%%") == ids[-1].count("%%") for text in texts)


@pytest.mark.parametrize("code", LANGUAGES)
def test_what_is_compiled_is_what_is_written(code):
    compiled = translations.po_file(code).with_suffix(".mo").read_bytes()
    assert compiled == translations.compiled(translations.load(code))


# Whose language --------------------------------------------------------------------------------------


@pytest.fixture
def german(settings) -> None:
    settings.CLUB_LANGUAGE = "de"


def choose(person: Member, code: str) -> Member:
    Choice.objects.update_or_create(member=person, defaults={"language": code})
    return Member.objects.get(pk=person.pk)


def test_who_chose_nothing_is_written_to_in_the_clubs_language(member, german):
    assert languages.of(member()) == "de"
    assert languages.of(choose(member(), "en-gb")) == "en-gb"


def test_a_language_that_is_gone_gives_way_to_the_clubs(member, settings):
    assert languages.of(choose(member(), "tlh")) == "en-gb"
    settings.CLUB_LANGUAGE = "tlh"
    assert languages.of(member()) == "en-gb"
    assert [error.id for error in checks.check_language()] == ["notices.E002"]


def test_it_is_chosen_on_the_page_of_notices(as_reader, cast: Cast):
    browser = as_reader("member")
    assert "Deutsch" in browser.get(reverse("notices:mine")).content.decode()
    browser.post(reverse("notices:mine"), {"language": "de", "one_mail": "on"})
    assert languages.of(Member.objects.get(pk=cast.member.pk)) == "de"


def test_a_language_nobody_speaks_here_is_refused(as_reader, cast: Cast):
    response = as_reader("member").post(reverse("notices:mine"), {"language": "xx"})
    assert response.status_code == 422


@pytest.mark.parametrize(("code", "tag"), [("en-gb", "en-GB"), ("de", "de")])
def test_a_mail_names_its_language(member, code, tag):
    """RFC 3282 section 2: Content-Language holds language tags; the HTML says the same."""
    made = mail.compose(choose(member(), code), [Letter("x", ("y",))], message_id="<a@b>", unsubscribe_url="")
    assert made.message()["Content-Language"] == tag
    assert f'<html lang="{tag}">' in made.alternatives[0].content


def test_writing_to_one_person_leaves_the_language_of_the_program(member):
    person = choose(member(), "de")
    mail.compose(person, [Letter("x", ("y",))], message_id="<a@b>", unsubscribe_url="")
    assert translation.get_language() == "en-gb"


def test_several_letters_close_in_the_readers_language(member):
    person = choose(member(name="Ada"), "de")
    made = mail.compose(person, [Letter("A", ()), Letter("B", ())], message_id="<a@b>", unsubscribe_url="u")
    assert made.subject == "A (und 1 weitere)"
    assert made.body.startswith("Hallo Ada,")
    assert "Keine Erinnerungen mehr" in made.body
    assert "Keine Erinnerungen mehr" in made.alternatives[0].content


def test_the_ledger_keeps_its_titles_and_reasons_in_english(german, session: Session, cast: Cast):
    give(session, cast.net_control)
    run(NOW)
    assert Notice.objects.earliest("pk").title == "Net control, Ridge Net, Tue 3 Mar 2026"


def test_the_next_mail_follows_a_change_of_language(session: Session, cast: Cast):
    give(session, cast.net_control)
    run(NOW)
    choose(cast.net_control, "de")
    schedule.call_off(session, note="")
    run(NOW + HOUR)
    subjects = [each.subject for each in outgoing.outbox if each.to == [cast.net_control.email]]
    assert subjects == [
        "Net control of Ridge Net: Tue 3 Mar, 19:30",
        "Du hast frei: Ridge Net: Leitstation, Di, 3. Mär, 19:30 Uhr",
    ]


# The private calendar --------------------------------------------------------------------------------


def test_a_change_of_language_reaches_the_private_calendar(session: Session, cast: Cast, client):
    give(session, cast.net_control)
    feeds.renew(cast.net_control, now=NOW)
    address = "/" + feeds.member_address(cast.net_control).split("/", 3)[3]
    assert b"SUMMARY:Ridge Net: net control" in client.get(address).content
    with TestCase.captureOnCommitCallbacks(execute=True):
        choose(cast.net_control, "de")
    feeds.rebuild_touched(now=NOW)
    calendar = client.get(address).content
    assert b"SUMMARY:Ridge Net: Leitstation" in calendar
    assert b"Dienste von QZ2NCS" in calendar


# Dates and sentences ---------------------------------------------------------------------------------


def test_dates_and_zones_in_german():
    with translation.override("de"):
        assert wall_time(NOW, "America/New_York") == "Dienstag, 3. März 2026, 07:00 Uhr (Ortszeit New York)"
        assert whole_date(NOW.date()) == "3. März 2026"


def test_figures_of_a_path_in_german():
    with translation.override("de"):
        said = spoken.verdict(verdicts.verdict(-2.5, 0.3, minimum_margin_db=6, minimum_probability=0.8))
    assert "Reserve -2,5 dB, 30 % Aussicht" in said
    assert said.endswith("(verlangt: +6,0 dB und 80 %).")


@pytest.mark.parametrize(
    ("margin", "chance"), [(20, 0.999), (8, 0.83), (2, 0.5), (-3, 0.4), (-40, 0.001), (6, 0.8)]
)
def test_the_path_is_said_in_english_as_the_pages_say_it(margin, chance):
    found = verdicts.verdict(margin, chance, minimum_margin_db=6, minimum_probability=0.8)
    assert spoken.verdict(found) == found.sentence


@pytest.mark.parametrize(
    "problem",
    [
        OSError("gone"),
        TimeoutError("slow"),
        ValueError("header"),
        mail.smtplib.SMTPRecipientsRefused({"a@b.example": (550, b"no such box")}),
        mail.smtplib.SMTPSenderRefused(550, b"no", "a@b.example"),
        mail.smtplib.SMTPDataError(554, b"spam"),
        mail.smtplib.SMTPNotSupportedError("no"),
    ],
    ids=lambda problem: type(problem).__name__,
)
def test_every_answer_of_a_mail_server_can_be_said_again(problem):
    sentence = mail.meaning_of(problem).sentence
    given_up = f"Given up after 10 tries. {sentence}"
    assert reasons.said_again(given_up) == given_up
    with translation.override("de"):
        assert reasons.said_again(given_up).startswith("Nach 10 Versuchen aufgegeben. ")
        assert reasons.said_again(sentence).split()[:2] != sentence.split()[:2]


def test_a_reason_nobody_knows_stays_as_it_is():
    with translation.override("de"):
        assert reasons.said_again("Something else.") == "Something else."


# Every kind ------------------------------------------------------------------------------------------


def run(at: dt.datetime) -> None:
    wishes.top_up(now=at)
    invites.top_up(now=at)
    upkeep.top_up(now=at)
    outages.top_up(now=at)
    delivery.send_due(clock=TestClock(at), policy=Policy(), server=mail.MailServer())


def told_of_the_net(session: Session, cast: Cast) -> None:
    """Turns given early and late, in doubt, moved, called off, taken away; one offered, one refused by mail."""
    later, far = session.net.sessions.filter(starts_at__gt=session.starts_at)[1:3]
    give(session, cast.net_control, station=make_station(cast.net_control))
    give(session, cast.member, Duty.Role.BACKUP)
    for each in (later, far):
        give(each, cast.officer)
    SwapOffer.objects.create(
        session=far, role="net_control", offered_by=cast.officer, offered_to=cast.member, note="Geht das?", made_at=NOW,
        return_session=later, return_role="backup", expires_at=NOW + 5 * DAY,
    )  # fmt: skip
    swap_letters.tell(SwapOffer.objects.get(), now=NOW)
    run(NOW)
    swaps.decline(SwapOffer.objects.get(), by=cast.member, now=NOW + HOUR)
    run(NOW + HOUR)
    schedule.call_off(later, note="")
    far.duties.all().delete()
    moved = {"starts_at": session.starts_at + HOUR, "ends_at": session.ends_at + HOUR}
    Session.objects.filter(pk=session.pk).update(**moved)
    run(NOW + HOUR)


def told_of_upkeep(site, cast: Cast) -> None:
    """A task due, one overdue, one of nobody, a low battery, a lease that ends."""
    site.steward, site.lease_expires_on = cast.steward, NOW.date() + 60 * DAY
    site.save()
    everything = ["tower", "rf", "mains", "battery", "generator", "lightning", "remote"]
    due = make_task(
        site, name="Akku", responsible=cast.member, hazards=everything, first_due_on=NOW.date() + 3 * DAY
    )
    make_task(site, name="Mast", first_due_on=NOW.date() - 40 * DAY, responsible=cast.member)
    make_task(
        site,
        name="Tor",
        rhythm="dates",
        every=None,
        fixed_dates="15 April, 15 October",
        lead_days=60,
        first_due_on=NOW.date(),
    )
    meter = due.reading_kinds.create(name="Spannung", unit="V", low=12.2, high=13.2)
    read(meter, 11.9)


def told_of_outages(session: Session) -> None:
    """One planned and called off after it was told, one that nobody foresaw."""
    week_later = session.net.sessions.filter(starts_at__gt=session.starts_at).earliest("starts_at")
    terms = Terms(week_later.starts_at - HOUR, week_later.ends_at, "Neue Antenne")
    planned = relay_outages.enter(session.net.relay, terms, by=None, now=NOW)
    later = NOW + 2 * HOUR
    run(later)
    relay_outages.call_off(planned, now=later)
    silent = Terms(NOW, None, "Antwortet nicht", kind="unplanned", effect="reduced")
    relay_outages.enter(session.net.relay, silent, by=None, now=later)


def test_a_letter_of_every_kind_has_no_english_left(german, session: Session, cast: Cast, site, ground):
    told_of_upkeep(site, cast)
    told_of_the_net(session, cast)
    told_of_outages(session)
    Notice.objects.filter(kind__in=["duty_reminder", "upkeep_due"]).update(
        state="failed", sent_at=None, error="The address was refused: 550 nein.", needs_report=True
    )
    run(NOW + 3 * HOUR)
    written = set(Notice.objects.filter(state__in=["sent", "failed"]).values_list("kind", flat=True))
    assert written == {name for name in kinds._KINDS if not name.startswith("test_")}
    for message in outgoing.outbox:
        for text in (message.subject, message.body, *(each.content for each in message.alternatives)):
            assert english_in(str(text)) == []
        assert message.extra_headers["Content-Language"] == "de"


def english_in(text: str) -> list[str]:
    """The English words of a text, without addresses, markup, names, and what calendars are made of."""
    if "BEGIN:VCALENDAR" in text:
        text = "".join(re.findall(r"^(?:SUMMARY|DESCRIPTION)[^:]*:(.*)$", text, re.MULTILINE))
    text = re.sub(r"<style.*?</style>|<[^>]+>|https?://\S+|\S+@\S+|QZ2\w+", " ", text, flags=re.DOTALL)
    return [found.group() for found in ENGLISH.finditer(text)]


def test_the_search_for_english_finds_some():
    assert english_in("Please say whether you will be there.") == ["Please", "whether", "you", "be"]
    assert english_in("Bitte sag, ob du dabei bist: https://x.example/of/the/") == []
