"""Settings of the test run: those of the product, with what makes a test slow or leaves files behind replaced."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile

if "SPANWELL_DATA" not in os.environ:
    _folder = tempfile.mkdtemp(prefix="spanwell-tests-")
    os.environ["SPANWELL_DATA"] = _folder
    atexit.register(shutil.rmtree, _folder, ignore_errors=True)
for _switch in ("SPANWELL_HTTPS", "SPANWELL_DEBUG", "SPANWELL_DEMO", "SPANWELL_HOSTS"):
    os.environ.pop(_switch, None)  # a developer's shell does not decide what a test sees

try:
    from spanwell.settings import *
except ModuleNotFoundError as missing:
    if missing.name != "spanwell.settings":
        raise
    SECRET_KEY = "x"
    USE_TZ = True
    DATABASES = {"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}}
