"""Starting beat asks for all that is scheduled, and all that is scheduled exists."""

from __future__ import annotations

import pytest

from clubops import celery


def test_starting_beat_asks_for_every_task_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    monkeypatch.setattr(celery.app, "send_task", asked.append)
    celery.do_everything_now()
    assert asked
    assert sorted(asked) == sorted(entry["task"] for entry in celery.app.conf.beat_schedule.values())


def test_every_scheduled_task_is_a_task() -> None:
    celery.app.loader.import_default_modules()
    scheduled = {entry["task"] for entry in celery.app.conf.beat_schedule.values()}
    assert scheduled
    assert scheduled <= set(celery.app.tasks)
