"""`refuses`: posts a wrong form and holds the answer to what every wrong form is owed."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client

from clubops.members.models import Member, Station
from nets.models import Absence, Duty, Net, Session
from relays.models import KeyHolder, Reading, ReadingKind, Relay, Renewal, Site, UpkeepRecord, UpkeepTask
from tests.bad_input.forms import FormState, sent
from tests.conftest import NOW

ROWS = (
    Member, Station, Site, Relay, Net, Session, Duty, Absence,
    UpkeepTask, UpkeepRecord, ReadingKind, Reading, Renewal, KeyHolder,
)  # fmt: skip
# Buttons are pressed, not kept.
BUTTONS = {"save", "look", "what"}

Refuses = Callable[..., str]


def everything() -> list[Any]:
    return [list(model.objects.order_by("pk").values()) for model in ROWS]


@pytest.fixture(autouse=True)
def frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def refuses(as_reader: Callable[[str], Client]) -> Refuses:
    """`refuses(who, address, data, sentence, ...)`: each sentence is told, nothing is saved, all typed is there.

    `unkept` are fields in which a choice was made that does not exist: it cannot be shown as chosen.
    """

    def refuse(
        who: str, address: str, data: dict[str, Any], *sentences: str, unkept: frozenset[str] = frozenset()
    ) -> str:
        before = everything()
        answer = as_reader(who).post(address, data)
        page = answer.content.decode()
        said = html.unescape(" ".join(re.sub(r"<[^>]+>", " ", page).split()))
        assert answer.status_code in {200, 422}, answer.status_code
        for sentence in sentences:
            assert sentence in said
        assert everything() == before
        lost = {each for each in sent(data) if each[0] not in BUTTONS} - FormState(page).held
        assert {name for name, _ in lost} == unkept
        return said

    return refuse
