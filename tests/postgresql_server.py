"""A database of its own on a real PostgreSQL, where CLUBOPS_TEST_POSTGRES_URL names a server.

Register in a conftest with `pytest_plugins = ["tests.postgresql_server"]` and mark the tests `postgresql`.
Continuous integration starts the server; by hand, any server will do whose user may create databases:
`CLUBOPS_TEST_POSTGRES_URL="postgresql://user@/postgres?host=/run/postgresql" manage.py test -m postgresql`.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from psycopg import sql

VARIABLE = "CLUBOPS_TEST_POSTGRES_URL"


@pytest.fixture
def postgresql_url() -> Iterator[str]:
    """The URL of an empty database, made for this test and dropped after it."""
    server = os.environ.get(VARIABLE)
    if not server:
        pytest.skip(f"{VARIABLE} names no PostgreSQL server to test with")
    name = f"club_test_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield urlunsplit(urlsplit(server)._replace(path=f"/{name}"))
        finally:
            # FORCE, as a test may have killed the process that still held a connection.
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
