"""The club's table of licence classes: asked about a member, kept in the office, carried over from free text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models import ProtectedError
from django.test import Client
from django.urls import reverse

from clubops.members import privileges
from clubops.members.licences import LicenceClass, Privilege
from clubops.members.models import Member
from clubops.members.segments import Operation, Verdict
from tests.conftest import Cast, make_member, make_station

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 3)


def a_class(name: str = "Fern", *rows: tuple[str, str, float | None, int], **fields: Any) -> LicenceClass:
    """An invented class with stretches of (from MHz, to MHz, most power in W, freedom)."""
    made = LicenceClass.objects.create(name=name, **fields)
    for low, high, power_w, operation in rows:
        Privilege.objects.create(
            licence_class=made,
            low_mhz=Decimal(low),
            high_mhz=Decimal(high),
            most_power_w=power_w,
            operation=operation,
        )
    return made


TWO_METRES = ("144", "148", 10.0, Operation.CHAIR)


def may(member: Member, mhz: str = "146.130", power_w: float = 5.0, **fields: Any) -> Verdict:
    values = {"on": TODAY, "half_bandwidth_mhz": Decimal("0.008")} | fields
    return privileges.may_transmit(member, Decimal(mhz), power_w, **values)


def test_a_member_may_send_what_their_class_allows() -> None:
    member = make_member("QZ3AAA", licence_class=a_class("Fern", TWO_METRES))
    assert may(member).words == "may send on 146.130 MHz with licence class Fern, with at most 10 W"
    assert may(member, power_w=11).fault == "power"
    assert may(member, "449.325").fault == "frequency"


def test_nobody_is_banned_by_what_the_club_has_not_written_down() -> None:
    assert (may(make_member("QZ3AAA")).answer, may(make_member("QZ3BBB")).fault) == ("unknown", "class")
    assert may(make_member("QZ3CCC", licence_class=a_class())).fault == "table"


def test_a_licence_that_has_run_out_allows_nothing_and_its_date_is_not_told() -> None:
    member = make_member("QZ3AAA", licence_class=a_class("Fern", TWO_METRES), licence_expires_on=TODAY)
    assert may(member).is_allowed
    found = may(member, on=TODAY + dt.timedelta(days=1))
    assert (found.fault, "2026" in found.words) == ("expired", False)


def test_classes_that_may_are_named_from_the_least_allowed_on() -> None:
    a_class("Summit", ("144", "148", None, Operation.CHAIR), order=3)
    a_class("Fern", TWO_METRES, order=2)
    a_class("Moss", ("144", "148", 5.0, Operation.ALONE), order=1)
    a_class("Drift")
    found = privileges.classes_that_may(Decimal("146.130"), half_bandwidth_mhz=Decimal("0.008"))
    assert [each.name for each in found] == ["Fern", "Summit"]


def test_a_class_is_known_by_its_name_however_it_is_typed() -> None:
    made = a_class("Fern major")
    assert privileges.class_named("  fern  MAJOR ") == made
    assert privileges.class_named("  ") is None


def test_an_unknown_class_is_answered_with_those_there_are() -> None:
    with pytest.raises(LookupError, match="the club has no classes yet"):
        privileges.class_named("Moss")
    a_class("Fern")
    with pytest.raises(
        LookupError, match=r"“Moss” is no licence class of this club; the club's classes are Fern"
    ):
        privileges.class_named("Moss")


def test_a_class_in_use_is_not_deleted() -> None:
    made = a_class("Fern", TWO_METRES)
    make_member("QZ3AAA", licence_class=made)
    with pytest.raises(ProtectedError):
        made.delete()
    assert Privilege.objects.count() == 1


@pytest.mark.parametrize(
    ("low", "high", "power_w"), [("146", "144", None), ("-1", "2", None), ("144", "146", -5.0)]
)
def test_the_database_keeps_no_stretch_that_cannot_be(low: str, high: str, power_w: float | None) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        a_class("Fern", (low, high, power_w, Operation.CHAIR))


# The office ----------------------------------------------------------------------------------------


def typed(*rows: tuple[str, str, str], name: str = "Fern") -> dict[str, str]:
    given = {
        "name": name,
        "order": "1",
        "note": "",
        "privileges-TOTAL_FORMS": str(len(rows)),
        "privileges-INITIAL_FORMS": "0",
    }
    for index, (low, high, power_w) in enumerate(rows):
        given |= {
            f"privileges-{index}-low_mhz": low,
            f"privileges-{index}-high_mhz": high,
            f"privileges-{index}-most_power_w": power_w,
            f"privileges-{index}-operation": "3",
        }
    return given


def test_an_officer_writes_down_a_class(as_reader: Callable[[str], Client]) -> None:
    address = reverse("admin:members_licenceclass_add")
    as_reader("officer").post(address, typed(("144", "146", "10"), ("146", "148", "")))
    assert [str(each) for each in LicenceClass.objects.get().segments] == [
        "144.000 to 146.000 MHz",
        "146.000 to 148.000 MHz",
    ]


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([("144", "146", ""), ("145", "148", "")], "lie over each other"),
        ([("148", "144", "")], "the lower edge comes first"),
        ([("144", "148", "-5")], "-5 W is no power"),
        ([("144", "148", "0")], "0 W is no power"),
        ([("two", "148", "")], "“two” is not a number; write it with a point"),
        ([("144", "", "")], "Nothing was given here, and it is needed."),
        ([("-3", "148", "")], "is no frequency"),
        ([("144", "1e99", "")], "there are no more than"),
    ],
)
def test_a_wrong_table_is_refused_with_a_sentence(
    rows: list[tuple[str, str, str]], sentence: str, as_reader: Callable[[str], Client]
) -> None:
    response = as_reader("officer").post(reverse("admin:members_licenceclass_add"), typed(*rows))
    assert response.status_code == 200
    assert sentence in response.content.decode().replace("&#x27;", "'")
    assert not LicenceClass.objects.exists()


def test_two_stretches_may_change_places_in_one_save(as_reader: Callable[[str], Client]) -> None:
    made = a_class("Fern", TWO_METRES, ("420", "450", None, Operation.CHAIR))
    one, other = made.privileges.all()
    given = typed(("420", "450", "10"), ("144", "148", "10")) | {
        "privileges-INITIAL_FORMS": "2",
        "privileges-0-id": str(one.pk),
        "privileges-1-id": str(other.pk),
    }
    as_reader("officer").post(reverse("admin:members_licenceclass_change", args=[made.pk]), given)
    one.refresh_from_db()
    other.refresh_from_db()
    assert (one.low_mhz, other.low_mhz) == (420, 144)


def test_the_office_deletes_no_class_that_somebody_holds(
    cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    made = a_class("Fern", TWO_METRES)
    Member.objects.filter(pk=cast.member.pk).update(licence_class=made)
    address = reverse("admin:members_licenceclass_delete", args=[made.pk])
    assert "QZ2MEM" in as_reader("officer").get(address).content.decode()
    as_reader("officer").post(address, {"post": "yes"})
    assert LicenceClass.objects.filter(pk=made.pk).exists()
    Member.objects.filter(pk=cast.member.pk).update(licence_class=None)
    as_reader("officer").post(address, {"post": "yes"})
    assert not Privilege.objects.exists()


def test_the_roster_shows_what_a_class_allows(cast: Cast, as_reader: Callable[[str], Client]) -> None:
    Member.objects.filter(pk=cast.member.pk).update(licence_class=a_class("Fern", TWO_METRES))
    page = as_reader("officer").get(reverse("admin:members_member_change", args=[cast.member.pk]))
    assert "144.000 to 148.000 MHz, up to 10 W, alone, and as net control" in page.content.decode()


# A member's own pages ------------------------------------------------------------------------------


def test_a_member_reads_what_their_class_allows(cast: Cast, as_reader: Callable[[str], Client]) -> None:
    Member.objects.filter(pk=cast.member.pk).update(
        licence_class=a_class("Fern", TWO_METRES, note="Invented.")
    )
    page = as_reader("member").get(reverse("members:me")).content.decode()
    assert "144.000 to 148.000 MHz, up to 10 W" in page
    assert "Your licence and the local rules decide" in page


def test_a_class_without_a_table_is_said_to_be_unknown(
    cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    Member.objects.filter(pk=cast.member.pk).update(licence_class=a_class("Fern"))
    page = as_reader("member").get(reverse("members:me")).content.decode()
    assert "the club has not written down what this class allows" in page


def test_the_relays_page_says_which_input_a_member_may_not_use(
    relay: Any, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    upper = a_class("Fern", ("420", "450", None, Operation.CHAIR))
    Member.objects.filter(pk=cast.member.pk).update(licence_class=upper)
    for address, words in (
        (reverse("relays:list"), "Your licence does not cover it"),
        (reverse("relays:page", args=[relay.slug]), "You may not send on 146.130 MHz"),
    ):
        assert words in as_reader("member").get(address).content.decode()
        assert words not in as_reader("net manager").get(address).content.decode()
        assert "licence" not in as_reader("outsider").get(address).content.decode()


def test_the_relays_page_counts_the_power_of_the_main_station(
    relay: Any, ground: Any, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    Member.objects.filter(pk=cast.member.pk).update(licence_class=a_class("Fern", TWO_METRES))
    make_station(cast.member, power_w=50)
    page = as_reader("member").get(reverse("relays:list")).content.decode()
    assert "At most 10 W with your licence" in page


# Carried over --------------------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_free_text_becomes_classes_that_stop_nobody_and_back_again() -> None:
    """Spacing and capitals do not make another class; the text stays readable."""
    last = MigrationExecutor(connection).loader.graph.leaf_nodes()
    MigrationExecutor(connection).migrate([("members", "0002_licence_classes")])
    try:
        old = MigrationExecutor(connection).loader.project_state([("members", "0002_licence_classes")]).apps
        texts = {"QZ3AAA": "Fern major", "QZ3BBB": " fern  MAJOR", "QZ3CCC": "", "QZ3DDD": "Moss"}
        for call_sign, text in texts.items():
            old.get_model("members", "Member").objects.create(call_sign=call_sign, licence_text=text)
        MigrationExecutor(connection).migrate(last)
        found = {
            each.call_sign: each.licence_class for each in Member.objects.select_related("licence_class")
        }
        assert {key: str(value or "") for key, value in found.items()} == {
            "QZ3AAA": "Fern major", "QZ3BBB": "Fern major", "QZ3CCC": "", "QZ3DDD": "Moss",
        }  # fmt: skip
        assert not any(each.segments for each in LicenceClass.objects.all())
        MigrationExecutor(connection).migrate([("members", "0002_licence_classes")])
        with connection.cursor() as cursor:
            cursor.execute("SELECT call_sign, licence_text FROM members_member ORDER BY call_sign")
            assert [row[1] for row in cursor.fetchall()] == ["Fern major", "Fern major", "", "Moss"]
    finally:
        MigrationExecutor(connection).migrate(last)
