"""Settings of the test run: those of the product under SPANWELL_TESTING, with a data folder that is thrown away.

Only the choice of the database comes from outside, SPANWELL_DATABASE as for a site, and what names tools.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from typing import Any

_FROM_OUTSIDE = {"SPANWELL_DATABASE", "SPANWELL_CHROMIUM", "SPANWELL_NO_BOOTSTRAP"}
for _switch in [name for name in os.environ if name.startswith("SPANWELL_") and name not in _FROM_OUTSIDE]:
    del os.environ[_switch]  # a developer's shell does not decide what a test sees
_folder = tempfile.mkdtemp(prefix="spanwell-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["SPANWELL_TESTING"] = "1"
os.environ["SPANWELL_DATA"] = _folder

from spanwell.settings import *  # noqa: E402

# Else each new test client reads every static file at its start, which takes forty times as long as its request.
WHITENOISE_AUTOREFRESH = True
STATIC_ROOT.mkdir()  # the static files' middleware warns when it is missing; in tests it reads the sources instead

_database: dict[str, Any] = DATABASES["default"]
if _database["ENGINE"].endswith("sqlite3"):
    # In memory all threads would share one connection, and with it one transaction; a file behaves as a site's does.
    # It is thrown away, so no write waits for the disk.
    _database["TEST"] = {"NAME": str(DATA / "tests.sqlite3")}
    _database["OPTIONS"]["init_command"] += " PRAGMA synchronous=OFF;"
