"""Password hashing sized for a small server."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher


class SmallArgon2(Argon2PasswordHasher):
    """Argon2id with 19 MiB a sign-in: Django's default of 100 MiB times eight people is too much for a plant's box.

    Parameters follow the OWASP password storage cheat sheet (m = 19456 KiB, t = 2, p = 1), from memory.
    """

    algorithm = "argon2"
    time_cost = 2
    memory_cost = 19456
    parallelism = 1
