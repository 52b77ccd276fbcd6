"""The faults' own kind of notice: its letter carries its key, so that deliveries can be counted one by one."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from django.apps import AppConfig

from tests.faults import stops

if TYPE_CHECKING:
    from clubops.notices.kinds import Letter
    from clubops.notices.models import Notice

KIND = "fault_test"


class FaultsConfig(AppConfig):
    name = "tests.faults"
    label = "faults"

    def ready(self) -> None:
        from clubops.notices import kinds  # noqa: PLC0415  models exist only now

        def render(notice: Notice, now: dt.datetime) -> Letter:
            stops.reach("writing")
            return kinds.Letter(notice.title, (f"key <{notice.key}>",), told={"key": notice.key})

        kinds.register(kinds.Kind(KIND, "fault test", render))
