"""The log page and its corners, without script."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from nets import schedule
from nets.checkins import keeping, rollcall
from nets.models import CheckIn, Duty, Session, SessionLog
from tests.conftest import Cast
from tests.log.conftest import BY, Log, heard_in, minutes

LOG = "/nets/ridge-net/2026-03-03/log/"


@pytest.fixture(autouse=True)
def _on_air(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock of the site stands four minutes into the session."""
    for view in ("nets.web.log", "nets.web.log_sync", "nets.web.log_import", "nets.web.report"):
        monkeypatch.setattr(f"{view}.timezone.now", lambda: minutes(4))


@pytest.fixture
def keeper(as_reader: Callable[[str], Client], in_the_chair: Duty) -> Client:
    return as_reader("net control")


def text(client: Client, address: str = LOG) -> str:
    return client.get(address, follow=True).content.decode()


def test_an_entry_is_posted_as_an_ordinary_form(keeper: Client, cast: Cast) -> None:
    answer = keeper.post(LOG, {"call_sign": "qz2mem", "report": "59", "via": "simplex"}, follow=True)
    assert "QZ2MEM is in the log." in answer.content.decode()
    row = CheckIn.objects.get()
    assert (row.member, row.report, row.via, row.logged_by) == (cast.member, "59", "simplex", "QZ2NCS")


def test_a_form_sent_twice_makes_one_entry(keeper: Client) -> None:
    for _ in range(2):
        keeper.post(LOG, {"call_sign": "QZ2MEM", "key": "6f1b8c52-3f6e-4d0e-9a57-6b1f0c0a7a11"})
    assert CheckIn.objects.count() == 1


def test_every_rendering_has_a_key_of_its_own(keeper: Client) -> None:
    keys = [keeper.get(LOG).context["form"]["key"].value() for _ in range(2)]
    assert keys[0] != keys[1]


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"call_sign": ""}, "as much of it as you heard"),
        ({"call_sign": "QZ2MEM", "time": "soon"}, "“soon” is not a time"),
        ({"call_sign": "QZ2MEM", "via": "pigeon"}, "pigeon is not one of the available choices"),
        ({"call_sign": "?"}, "There is no call sign"),
    ],
)
def test_a_wrong_entry_gets_a_sentence_and_keeps_what_was_typed(
    keeper: Client, given: dict[str, str], sentence: str
) -> None:
    answer = keeper.post(LOG, given | {"notes": "keep me"})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert 'value="keep me"' in answer.content.decode()
    assert not CheckIn.objects.exists()


def test_the_session_is_started_with_its_net_control_and_roll(
    keeper: Client, cast: Cast, session: Session, earlier: Callable[[int], Session]
) -> None:
    for weeks in (1, 2):
        heard_in(earlier(weeks), "QZ2OFF", "QZ2MEM")
    keeper.post(f"{LOG}state/", {"do": "open", "net_control": cast.officer.pk, "roll": "call_sign"})
    log = SessionLog.objects.get(session=session)
    assert (log.net_control, log.opened_by) == (cast.officer, "QZ2NCS")
    assert [line.call_sign for line in session.roll.all()] == ["QZ2MEM"]


def test_the_form_proposes_who_is_on_the_rota(keeper: Client, cast: Cast) -> None:
    assert keeper.get(LOG).context["opening_form"]["net_control"].value() == cast.net_control.pk


def test_closing_leads_to_the_report(keeper: Client, opened: SessionLog) -> None:
    answer = keeper.post(f"{LOG}state/", {"do": "close", "remark": "All well."}, follow=True)
    assert answer.redirect_chain[-1][0] == "/nets/ridge-net/2026-03-03/report/"
    assert "All well." in answer.content.decode()


def test_what_cannot_be_done_is_said(keeper: Client) -> None:
    answer = keeper.post(f"{LOG}state/", {"do": "close"}, follow=True)
    assert "never started" in answer.content.decode()
    assert (
        "nothing that can be done" in keeper.post(f"{LOG}state/", {"do": "x"}, follow=True).content.decode()
    )


def test_a_line_of_the_roll_is_ticked_skipped_and_added(keeper: Client, session: Session) -> None:
    first, second = (rollcall.add(session, name, by=BY) for name in ("QZ2MEM", "QZ2OFF"))
    keeper.post(f"{LOG}roll/", {"line": first.key, "state": "heard"})
    keeper.post(f"{LOG}roll/", {"line": first.key, "state": "heard"})
    keeper.post(f"{LOG}roll/", {"line": second.key, "state": "no_answer"})
    keeper.post(f"{LOG}roll/", {"call_sign": "QX7TAB"})
    assert [row.call_sign for row in CheckIn.objects.all()] == ["QZ2MEM"]
    assert [(line.call_sign, line.state) for line in session.roll.all()] == [
        ("QZ2MEM", "waiting"), ("QZ2OFF", "no_answer"), ("QX7TAB", "waiting"),
    ]  # fmt: skip


def test_a_bad_line_of_the_roll_is_answered_and_not_crashed_on(keeper: Client, session: Session) -> None:
    assert "is not a key" in keeper.post(f"{LOG}roll/", {"line": "x"}, follow=True).content.decode()
    assert keeper.post(f"{LOG}roll/", {"line": uuid.uuid4(), "state": "heard"}).status_code == 404


def test_the_page_shows_duplicates_first_times_and_visitors_in_words(keeper: Client, log: Log) -> None:
    log("QX7TAB", name="Tabea", place="Far Dale")
    log("QX7TAB", at=minutes(3))
    page = text(keeper)
    for words in ("again", "first time", "visitor", "Tabea, Far Dale", "19:32", "00:32 UTC"):
        assert words in page


def test_an_entry_is_corrected_on_a_page_of_its_own(keeper: Client, log: Log) -> None:
    row = log("QX7TAB", report="59")
    address = f"{LOG}entry/{row.key}/"
    form = keeper.get(address).context["form"]
    given = {name: form[name].value() or "" for name in form.fields} | {"report": "33"}
    answer = keeper.post(address, given, follow=True)
    assert "<del>59</del> <ins>33</ins>" in answer.content.decode()
    assert row.corrections.get().after == {"report": "33"}


def test_a_wrong_correction_gets_a_sentence(keeper: Client, log: Log) -> None:
    row = log("QX7TAB")
    answer = keeper.post(f"{LOG}entry/{row.key}/", {"call_sign": "QX7TAB", "time": "99", "via": "simplex"})
    assert answer.status_code == 422
    assert "is not a time" in answer.content.decode()


def test_an_entry_of_another_log_is_not_found(
    keeper: Client, log: Log, earlier: Callable[[int], Session]
) -> None:
    row = log("QX7TAB", into=earlier(1))
    assert keeper.get(f"{LOG}entry/{row.key}/").status_code == 404


def test_a_session_called_off_says_so(keeper: Client, session: Session) -> None:
    schedule.call_off(session, note="Ice.")
    assert "This session is called off" in text(keeper)
    assert "called off" in keeper.post(LOG, {"call_sign": "QZ2MEM"}).content.decode()


def test_names_typed_on_the_air_are_text_and_nothing_else(keeper: Client, log: Log) -> None:
    log("QX7TAB", name="</script><b>loud", notes="<img src=x>")
    page = text(keeper)
    assert "<b>loud" not in page
    assert "<img" not in page


def test_the_worker_is_a_script_under_the_pages_own_address(keeper: Client, session: Session) -> None:
    answer = keeper.get(f"{LOG}worker.js")
    assert answer["Content-Type"] == "text/javascript"
    assert answer.content.startswith(b"// Opens the log page")


def test_a_declined_duty_opens_no_log(as_reader: Callable[[str], Client], in_the_chair: Duty) -> None:
    in_the_chair.state = Duty.State.DECLINED
    in_the_chair.save()
    assert as_reader("net control").get(LOG).status_code == 403


def test_the_backup_keeps_the_log_too(
    as_reader: Callable[[str], Client], session: Session, cast: Cast
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.steward)
    assert as_reader("steward").get(LOG).status_code == 200


def test_the_nets_own_manager_needs_no_role(
    as_reader: Callable[[str], Client], session: Session, cast: Cast
) -> None:
    session.net.manager = cast.member
    session.net.save()
    assert as_reader("member").get(LOG).status_code == 200


def test_an_officer_without_a_roster_entry_signs_with_the_login(
    admin_client: Client, session: Session, admin_user: object
) -> None:
    admin_client.post(LOG, {"call_sign": "QZ2MEM"})
    assert CheckIn.objects.get().logged_by == "admin"


IMPORT = f"{LOG}import/"


def test_a_table_is_shown_before_it_is_saved(keeper: Client) -> None:
    answer = keeper.post(IMPORT, {"text": "Call sign,Time\nQZ2MEM,19:42\nQX7TAB,99\n", "do": "look"})
    page = answer.content.decode()
    assert "1 row can be saved; 1 cannot" in page
    assert "is not a time" in page
    assert not CheckIn.objects.exists()


def test_saving_keeps_the_bad_rows_to_be_mended(keeper: Client) -> None:
    answer = keeper.post(IMPORT, {"text": "Call sign,Time\nQZ2MEM,19:42\nQX7TAB,99\n", "do": "save"})
    assert [row.call_sign for row in CheckIn.objects.all()] == ["QZ2MEM"]
    assert answer.context["form"]["text"].value() == "Call sign,Time\nQX7TAB,99"


def test_a_good_table_leads_back_to_the_log(keeper: Client) -> None:
    answer = keeper.post(IMPORT, {"text": "Call sign\nQZ2MEM\n", "do": "save"})
    assert (answer.status_code, answer["Location"]) == (302, LOG)


def test_a_file_stands_in_the_form_after_the_first_look(keeper: Client) -> None:
    file = SimpleUploadedFile("log.csv", "Call sign,Name\nQX7TAB,Zoë\n".encode("cp1252"))
    answer = keeper.post(IMPORT, {"file": file, "do": "look"})
    assert answer.context["form"]["text"].value() == "Call sign,Name\nQX7TAB,Zoë\n"


@pytest.mark.parametrize("given", [{}, {"text": "QZ2MEM"}, {"file": SimpleUploadedFile("x.xlsx", b"PK\x00")}])
def test_what_is_no_table_gets_a_sentence(keeper: Client, given: dict[str, object]) -> None:
    answer = keeper.post(IMPORT, given)
    assert answer.status_code == 422
    assert answer.context["form"].non_field_errors()


def test_before_its_time_the_page_says_when_the_log_opens(
    keeper: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nets.web.log.timezone.now", lambda: minutes(-60 * 10))
    page = text(keeper)
    assert "its log can be opened from 13:30 on 3 March 2026" in page
    assert 'id="entry-form"' not in page


def test_the_report_gives_times_in_words(
    keeper: Client, closed: Callable[[], SessionLog], session: Session
) -> None:
    closed()
    keeping.open_log(session, by=BY, now=minutes(50))
    closed()
    assert "Reopened by" in (page := text(keeper, LOG.replace("log/", "report/")))
    assert "2026-03-04T" not in page
