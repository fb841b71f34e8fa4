"""What holds for every file: locks, lengths, names, words, templates."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import get_commands
from django.template import engines

ROOT = Path(__file__).resolve().parents[2]
OURS = ("spanwell", "assets", "maintenance", "calibration", "tests", "fixtures", ".ci")
LOCKS = ("requirements.lock", "requirements-dev.lock")
LONGEST_FILE = 400
LONGEST_FUNCTION = 60


def files(*suffixes: str) -> Iterator[Path]:
    """Yield the project's own text files; what tools or sites wrote is left out."""
    top = [path for path in ROOT.iterdir() if path.is_file()]
    below = [path for room in OURS for path in (ROOT / room).rglob("*") if path.is_file()]
    for path in sorted(top + below):
        if "__pycache__" not in path.parts and (path.suffix in suffixes if suffixes else is_text(path)):
            yield path


def is_text(path: Path) -> bool:
    return path.suffix not in {".png", ".jpg", ".webp", ".ico", ".woff2", ".pyc", ".sqlite3", ".lock"}


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def is_vendored(path: Path) -> bool:
    return "vendor" in path.parts or ".min." in path.name


# ------------------------------------------------------------------------------------------------------------- locks


def pins(lock: str) -> dict[str, tuple[str, frozenset[str]]]:
    """Return of each package its pin with marker, and its hashes."""
    found: dict[str, tuple[str, frozenset[str]]] = {}
    for block in re.split(r"\n(?! )", (ROOT / lock).read_text().strip()):
        first, *rest = (line.strip().removesuffix("\\").strip() for line in block.splitlines())
        name = re.split(r"==", first)[0]
        # The same package may be pinned twice, for different versions of Python.
        found[first] = (name, frozenset(rest))
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_pins_every_package_with_hashes_and_names_no_address(lock: str) -> None:
    every = pins(lock)
    assert len(every) > 20
    for pin, (_, hashes) in every.items():
        assert re.fullmatch(r"[a-z0-9-]+==[0-9][\w.+]*( ; .+)?", pin), pin
        assert hashes, f"{pin} has no hash"
        assert all(re.fullmatch(r"--hash=sha256:[0-9a-f]{64}", line) for line in hashes), pin
    assert not re.search(r"://|index|find-links|@ ", (ROOT / lock).read_text())


def test_the_development_lock_holds_every_pin_of_the_runtime_lock() -> None:
    # manage.py relies on it: after `test` nothing has to be installed for `demo`.
    development = pins("requirements-dev.lock")
    for pin, pinned in pins("requirements.lock").items():
        assert development.get(pin) == pinned, pin


def test_the_locks_hold_every_package_that_pyproject_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())

    def plain(requirement: str) -> str:
        return re.match(r"[A-Za-z0-9_.-]+", requirement)[0].lower().replace("_", "-")  # type: ignore[index]

    runtime = {name for name, _ in pins("requirements.lock").values()}
    development = {name for name, _ in pins("requirements-dev.lock").values()}
    assert {plain(needed) for needed in project["project"]["dependencies"]} <= runtime
    assert {plain(needed) for needed in project["dependency-groups"]["dev"]} <= development


# ------------------------------------------------------------------------------------------------------------ README


def test_the_readme_gives_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text()
    assert "python3 manage.py demo" in text
    assert "python3 manage.py test" in text


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_commands_and_files_named_in_the_handbooks_exist(page: str) -> None:
    text = (ROOT / page).read_text()
    known = {"test", *get_commands()}
    missing = [name for name in re.findall(r"manage\.py ([a-z_]+)", text) if name not in known]
    missing += [
        target
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text)
        if "://" not in target and not (ROOT / target).exists()
    ]
    assert not missing


# ----------------------------------------------------------------------------------------------------- size and names


def test_no_file_is_longer_than_a_reader_can_hold() -> None:
    long = {
        named(path): lines
        for path in files(".py", ".html", ".css", ".js", ".toml")
        if not is_vendored(path) and "migrations" not in path.parts
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST_FILE
    }
    assert not long


def functions(path: Path) -> Iterator[tuple[str, int]]:
    """Yield name and length of every function of a file, its docstring not counted."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            text = ast.get_docstring(node, clean=False)
            yield node.name, lines - (len(text.splitlines()) if text else 0)


def test_no_function_is_longer_than_a_screen() -> None:
    long = [
        f"{named(path)}: {name} has {lines} lines"
        for path in files(".py")
        if "migrations" not in path.parts
        for name, lines in functions(path)
        if lines > LONGEST_FUNCTION
    ]
    assert not long


def test_no_module_is_named_after_nothing() -> None:
    empty_names = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "managers", "services", "tools"}
    assert not [named(path) for path in files(".py") if path.stem in empty_names]


def test_migrations_are_named_by_a_person() -> None:
    folders = [ROOT / app / "migrations" for app in ("assets", "maintenance", "calibration")]
    names = [path.stem for folder in folders for path in folder.glob("[0-9]*.py")]
    assert names
    assert not [name for name in names if "_auto_" in name or not re.fullmatch(r"\d{4}_[a-z][a-z0-9_]+", name)]


# ------------------------------------------------------------------------------------------------------------- words


def test_no_file_speaks_of_anything_outside_the_project() -> None:
    outside = re.compile(r"/root/|/home/|\.\./\w+/|\bindex-url\b|\bT[O]DO\b|\bFIX[M]E\b|\bX[X]X\b")
    pages = re.compile(r"\b(?!README\.md|DEVELOPERS\.md)[\w-]+\.md\b")
    found = [
        f"{named(path)}:{number}: {line.strip()[:80]}"
        for path in files()
        if path != Path(__file__).resolve()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if outside.search(line) or pages.search(line)
    ]
    assert not found


# --------------------------------------------------------------------------------------------------------- templates


def templates() -> list[tuple[str, Path]]:
    folders = [Path(config.path) / "templates" for config in apps.get_app_configs()]
    return [
        (str(path.relative_to(folder)), path)
        for folder in folders
        if folder.is_relative_to(ROOT) and ".venv" not in folder.parts
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    ]


def test_every_template_compiles() -> None:
    every = templates()
    assert every
    for name, _ in every:
        engines["django"].get_template(name)


def test_no_template_carries_script_or_style_that_the_policy_would_block() -> None:
    inline = re.compile(r"<style|<script(?![^>]*\bsrc=)|\sstyle\s*=|\son[a-z]+\s*=\s*[\"']|javascript:", re.IGNORECASE)
    found = [
        f"{name}:{number}: {line.strip()[:80]}"
        for name, path in templates()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if inline.search(line)
    ]
    assert not found
