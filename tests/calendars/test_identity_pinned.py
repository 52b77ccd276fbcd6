"""Values of today that nobody outside has confirmed: change one and every subscriber sees every entry twice."""

from __future__ import annotations

from nets.calendars.identity import mint


def test_the_uid_of_a_seed_is_the_same_for_ever() -> None:
    assert mint("net", "9f1c", revisions=[0]).uid == "b5ef8022-c0d8-5d02-96a8-9ff8f49c7dda"
