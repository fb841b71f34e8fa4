"""Every change of a lockout, each under the lock of the site's lockouts, so that no two of them cross."""

from __future__ import annotations
