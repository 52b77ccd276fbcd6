"""Addresses and stored bytes of the calendars."""

from __future__ import annotations

import secrets

from django.db import models
from django.db.models import Q

from clubops.members.models import Member


def new_token() -> str:
    """256 random bits, safe in an address."""
    return secrets.token_urlsafe(32)


class FeedKey(models.Model):
    """The secret part of a member's calendar address. Revoking it makes the address answer 404 for good."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="feed_keys")
    token = models.CharField(max_length=64, unique=True, default=new_token, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["member"], condition=Q(revoked_at__isnull=True), name="feed_key_one_live_a_member"
            )
        ]

    def __str__(self) -> str:
        return f"calendar of {self.member.call_sign}"


class StoredCalendar(models.Model):
    """A built calendar: what a feed request answers with, without building anything."""

    key = models.CharField(max_length=120, unique=True, help_text="Such as net:12 or member:7.")
    body = models.BinaryField()
    etag = models.CharField(max_length=80)
    modified_at = models.DateTimeField()

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return self.key
