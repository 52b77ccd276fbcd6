"""The three laws of the layout, read from the import statements of the code itself."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("clubops", "relays", "nets")

# Inside an app: the outer ring may import the inner rings, never the other way round.
EDGES = ("web", "admin", "tasks", "urls", "management", "views")
# These join the rings on purpose: an app's start-up code and the signal handlers that wake a task.
JOINTS = {
    "relays.apps",
    "relays.freshness",
    "nets.apps",
    "nets.changes",
    "clubops.notices.apps",
    "clubops.members.apps",
}

# Across apps: who may import whom.
MAY_IMPORT = {
    "nets": {"nets", "relays", "clubops"},
    "relays": {"relays", "clubops"},
    "clubops": {"clubops"},
}
# Inside clubops: members and notices know nothing of the site around them but these.
FOUNDATIONS = {
    "clubops.clock",
    "clubops.wake",
    "clubops.env",
    "clubops.celery",
    "clubops.errors",
    "clubops.sentences",
}

PURE = (
    "relays.propagation",
    "nets.recurrence",
    "nets.calendars",
    "nets.rota.model",
    "nets.rota.problem",
    "nets.rota.reasons",
    "nets.rota.rules",
    "nets.rota.solver",
    "clubops.clock",
    "clubops.members.callsigns",
    "clubops.members.locators",
    "clubops.members.segments",
)
IMPURE_ROOTS = {"django", "celery", "redis", "rasterio", "requests", "os", "pathlib", "sqlite3", "logging"}


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def sources() -> Iterator[tuple[str, ast.Module]]:
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield module_name(path), ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def imported(tree: ast.Module) -> Iterator[str]:
    """Every module a file imports, type-checking blocks included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


MODULES = dict(sources())


def ring(module: str) -> str:
    """'edge' for views, tasks, admin...; 'core' for propagation; 'verbs' for the rest."""
    parts = module.split(".")
    if any(part in EDGES for part in parts[1:]):
        return "edge"
    return "core" if "propagation" in parts else "verbs"


@pytest.mark.parametrize("module", [name for name in MODULES if name not in JOINTS])
def test_inside_an_app_imports_point_inward(module: str) -> None:
    app = module.split(".")[0]
    inner = {"edge": (), "verbs": ("edge",), "core": ("edge", "verbs")}[ring(module)]
    for name in imported(MODULES[module]):
        if name.split(".")[0] == app and name in MODULES and name != app:
            assert ring(name) not in inner, f"{module} ({ring(module)}) imports {name} ({ring(name)})"


@pytest.mark.parametrize("module", list(MODULES))
def test_across_apps_imports_follow_the_arrow(module: str) -> None:
    app = module.split(".")[0]
    for name in imported(MODULES[module]):
        other = name.split(".")[0]
        if other in APPS:
            assert other in MAY_IMPORT[app], f"{module} imports {name}"


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith(("clubops.members", "clubops.clock"))])
def test_members_know_nothing_of_what_rests_on_them(module: str) -> None:
    for name in imported(MODULES[module]):
        if name.startswith("clubops."):
            allowed = name.startswith("clubops.members") or any(name.startswith(base) for base in FOUNDATIONS)
            assert allowed, f"{module} imports {name}"


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith(PURE)])
def test_pure_modules_touch_nothing_outside(module: str) -> None:
    for name in imported(MODULES[module]):
        assert name.split(".")[0] not in IMPURE_ROOTS, f"{module} imports {name}"
        if name.split(".")[0] in APPS and name in MODULES:
            assert name in {"clubops", "nets", "relays", "clubops.members", "nets.rota"} or name.startswith(
                PURE
            ), f"{module} imports {name}"


@pytest.mark.parametrize("module", list(MODULES))
def test_nothing_is_imported_late(module: str) -> None:
    """An import inside a function hides a cycle.

    AppConfig.ready is where Django asks for one; the bootstrap runs before anything else can be imported; the
    settings make a secret key only when none is given.
    """
    if module.startswith("clubops.bootstrap") or module == "clubops.settings":
        return
    late = [
        node.lineno
        for outer in ast.walk(MODULES[module])
        if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef) and outer.name != "ready"
        for node in ast.walk(outer)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]
    assert not late, f"{module}: lines {late}"


def test_no_module_is_a_drawer() -> None:
    drawers = [
        name
        for name in MODULES
        if name.rsplit(".", 1)[-1] in {"utils", "helpers", "services", "misc", "common"}
    ]
    assert not drawers


def test_files_stay_short() -> None:
    """One compiled kernel is one file, because its disk cache cannot see changes in another."""
    long = {
        str(path.relative_to(ROOT)): lines
        for app in APPS
        for path in (ROOT / app).rglob("*.py")
        if "migrations" not in path.parts
        and (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
        and path.name != "sweep.py"
    }
    assert not long
