#!/usr/bin/env python3
"""The one door of the command line: makes its own environment in .venv, then runs Django's commands or the tests.

    python3 manage.py demo      a sample plant to look at
    python3 manage.py serve     a real site
    python3 manage.py test      every test this machine can run; what follows goes to pytest

Only the standard library until the environment stands. SPANWELL_NO_BOOTSTRAP=1 leaves the environment alone
(containers, packagers, an environment of your own).
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
RUNTIME = ROOT / "requirements.lock"
DEVELOPMENT = ROOT / "requirements-dev.lock"
OLDEST = (3, 11)
KEPT_FOR_THE_DEMO = {"SPANWELL_NO_BOOTSTRAP", "SPANWELL_HOSTS"}


def main() -> int:
    if sys.version_info < OLDEST:
        return refuse(too_old())
    testing = sys.argv[1:2] == ["test"]
    try:
        if not os.environ.get("SPANWELL_NO_BOOTSTRAP"):
            ensure_environment(DEVELOPMENT if testing else RUNTIME)
        return run_tests(sys.argv[2:]) if testing else run_command(sys.argv)
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


def ensure_environment(lock: Path) -> None:
    """Bring .venv up to `lock`, once per content of the lock, and go on inside it."""
    if not is_current(lock):
        install(lock)
    if Path(sys.prefix).resolve() != VENV.resolve():
        os.environ.pop("__PYVENV_LAUNCHER__", None)  # macOS hands the outer Python down through it
        arguments = [str(PYTHON), *sys.argv]
        if os.name == "nt":  # exec there gives the prompt back before the command ends
            sys.exit(subprocess.call(arguments))
        sys.stdout.flush()
        os.execv(PYTHON, arguments)


def install(lock: Path) -> None:
    if PYTHON.exists():
        print(f"Bringing .venv up to {lock.name}, a few seconds...", flush=True)
    else:
        print("Making the environment in .venv, about half a minute...", flush=True)
    if not has_pip():
        make_venv()
    for stale in VENV.glob("*.sha256"):
        stale.unlink()
    command = [str(PYTHON), "-m", "pip", "install", "-q", "--disable-pip-version-check"]
    done = subprocess.run([*command, "--require-hashes", "--only-binary=:all:", "-r", str(lock)])
    if done.returncode:
        sys.exit(refuse(f"The packages of {lock.name} could not be installed; pip says why above. Then try again."))
    stamp(lock).write_text(digest(lock))
    if lock == DEVELOPMENT:  # it holds every pin of the other one
        stamp(RUNTIME).write_text(digest(RUNTIME))


def make_venv() -> None:
    try:
        import venv

        venv.create(VENV, with_pip=True, clear=VENV.exists())
    except (ImportError, subprocess.CalledProcessError):
        shutil.rmtree(VENV, ignore_errors=True)  # half of one would look like a whole one next time
        name = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
        sys.exit(
            refuse(
                "This Python cannot make an environment, because its venv module is missing or incomplete. "
                f"On Debian and Ubuntu: `apt install python3-venv` (or {name}). Then run this again."
            )
        )


def has_pip() -> bool:
    if not PYTHON.exists():
        return False
    asked = subprocess.run([PYTHON, "-m", "pip", "--version"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return asked.returncode == 0


def is_current(lock: Path) -> bool:
    return PYTHON.exists() and stamp(lock).exists() and stamp(lock).read_text() == digest(lock)


def stamp(lock: Path) -> Path:
    return VENV / f"{lock.name}.sha256"


def digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def run_tests(arguments: list[str]) -> int:
    os.environ.pop("DJANGO_SETTINGS_MODULE", None)
    # A run starts dozens of processes, and none of them should compile the program again.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    os.chdir(ROOT)
    try:
        import pytest
    except ImportError:
        return refuse("pytest is not in this environment. Install requirements-dev.lock into it.")
    return int(pytest.main([*on_every_core(arguments), *arguments]))


def on_every_core(arguments: list[str]) -> list[str]:
    """Return what spreads the whole suite over the cores, file by file; a part of it is quicker on one."""
    cores = min(len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1, 4)
    names_a_part = any(not argument.startswith("-") for argument in arguments)
    spread = ["-n", str(cores), "--dist", "loadfile", "--no-loadscope-reorder"]  # tests/conftest.py knows what is slow
    return [] if names_a_part or cores < 2 else spread


def keep_to_the_demo() -> None:
    """Point the switches at the demo's own folder before Django reads one, so that a real site stays out of reach."""
    if os.environ.get("SPANWELL_DEMO", "") != "1":  # else somebody chose another place for a demo
        for switch in [name for name in os.environ if name.startswith("SPANWELL_") and name not in KEPT_FOR_THE_DEMO]:
            del os.environ[switch]
    os.environ["SPANWELL_DEMO"] = "1"
    os.environ.setdefault("SPANWELL_DATA", str(ROOT / "var" / "demo"))


def run_command(arguments: list[str]) -> int:
    if arguments[1:2] == ["demo"]:
        keep_to_the_demo()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "spanwell.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        return refuse("Django is not in this environment. Install requirements.lock into it.")
    execute_from_command_line(arguments)
    return 0


def too_old() -> str:
    here = f"{sys.version_info[0]}.{sys.version_info[1]}"
    newer = next(filter(shutil.which, ("python3.14", "python3.13", "python3.12", "python3.11")), None)
    advice = f"Use `{newer} manage.py`." if newer else "Install a newer Python first."
    return f"Spanwell needs Python {OLDEST[0]}.{OLDEST[1]} or newer; this is Python {here}. {advice}"


def refuse(sentence: str) -> int:
    print(sentence, file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
