"""A new club begins with one officer."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client

from clubops.members.models import Member, User
from clubops.members.permissions import Reader

pytestmark = pytest.mark.django_db


def add(*words: str) -> str:
    out = io.StringIO()
    call_command("add_officer", *words, stdout=out)
    return out.getvalue()


def test_it_makes_an_officer_who_can_log_in() -> None:
    said = add("qz2new", "Nia Quist", "--email", "nia@club.example")
    username, password = said.split()[3], said.split()[5]
    assert Client().login(username=username, password=password)
    assert Reader(User.objects.get(username=username)).is_officer


def test_the_call_sign_is_normalised() -> None:
    add("qz2new", "Nia Quist")
    assert Member.objects.get().call_sign == "QZ2NEW"


def test_it_refuses_what_is_no_call_sign_and_adds_nothing() -> None:
    with pytest.raises(CommandError):
        add("nonsense!", "Nia Quist")
    assert not User.objects.exists()


def test_it_refuses_a_call_sign_that_is_there_already() -> None:
    add("QZ2NEW", "Nia Quist")
    with pytest.raises(CommandError, match="already exists"):
        add("QZ2NEW", "Somebody Else")
