"""A ledger on each database, and a scene around it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from psycopg import sql

from tests.faults.scene import ROOT, Scene
from tests.notices.smtp_server import Post, serving
from tests.postgresql_server import VARIABLE
from tests.redis_server import RedisServer

DATABASES = ["SQLite", pytest.param("PostgreSQL", marks=pytest.mark.postgresql)]


def migrate(database_url: str, folder: Path) -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
        "CLUBOPS_DATABASE_URL": database_url,
        "CLUBOPS_VAR_DIR": str(folder),
        "CLUBOPS_SECRET_KEY": "a key for tests only",
    }
    command = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
    subprocess.run(command, env=environment, check=True, timeout=120, stdout=subprocess.DEVNULL)


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated database file to copy."""
    folder = tmp_path_factory.mktemp("ledger")
    migrate(f"sqlite:///{folder / 'empty.sqlite3'}", folder)
    return folder / "empty.sqlite3"


@pytest.fixture(scope="session")
def empty_postgresql(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The name of a migrated database to copy."""
    server = os.environ.get(VARIABLE)
    if not server:
        pytest.skip(f"{VARIABLE} names no PostgreSQL server to test with")
    name = f"club_empty_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            migrate(urlunsplit(urlsplit(server)._replace(path=f"/{name}")), tmp_path_factory.mktemp("ledger"))
            yield name
        finally:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@pytest.fixture(params=DATABASES)
def database(request: pytest.FixtureRequest) -> str:
    """The database a test runs on: every fault on SQLite, and on PostgreSQL where there is a server."""
    return str(request.param)


@pytest.fixture
def database_url(database: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    if database == "SQLite":
        path = tmp_path / "club.sqlite3"
        shutil.copy(request.getfixturevalue("empty_sqlite"), path)
        yield f"sqlite:///{path}"
        return
    empty, server = request.getfixturevalue("empty_postgresql"), os.environ[VARIABLE]
    name = sql.Identifier(f"club_test_{uuid.uuid4().hex}")
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(name, sql.Identifier(empty)))
        try:
            yield urlunsplit(urlsplit(server)._replace(path="/" + name._obj[0]))
        finally:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(name))


@pytest.fixture
def post() -> Post:
    return Post()


@pytest.fixture
def make_scene(
    database_url: str, tmp_path: Path, redis_server: RedisServer, post: Post
) -> Iterator[Callable[..., Scene]]:
    """Make a scene with limits of its own; whatever it started is gone afterwards."""
    scenes: list[Scene] = []
    with serving(post) as port:

        def make(**given: tuple[float, float, float]) -> Scene:
            scenes.append(Scene(database_url, tmp_path, redis_server, port, **given))
            return scenes[-1]

        yield make
        for scene in scenes:
            scene.stop_all()


@pytest.fixture
def scene(make_scene: Callable[..., Scene]) -> Scene:
    return make_scene()
