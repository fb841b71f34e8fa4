"""Signing a pH check, its signer's proof already given, beside the same rows put in by bare SQL.

Both run on copies of one database in the same state, with the same pragmas (write-ahead log, FULL: every commit waits
for the disk), the same indexes, constraints and triggers. What the bare one leaves out is everything else: reading
what is needed, working the check out, asking who may, hashing the chain.
"""

from __future__ import annotations

import os
import statistics
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from tests.benchmarks import place
from tests.benchmarks.measuring import ratios, say, spread, take_turns, verdict

AIM = 3.0
CHECKS = 6


@dataclass(frozen=True)
class Statement:
    """One insert with the values of its rows."""

    sql: str
    rows: list[tuple[Any, ...]]


def prepare(database: Path) -> list[int]:
    """Write lots, requirements and as many drafts, typed to the end, as are signed in a round; return their keys."""
    from assets.models import Role
    from calibration.actions.drafts import begin_draft, keep_draft
    from tests.make import make_person, make_position
    from tests.make_checks import Bench, make_requirement, make_routine

    place.use(database)
    bench = Bench()
    drafts = []
    for _ in range(CHECKS):
        position = make_position(site=bench.site)
        plan = make_routine(position=position, by=bench.supervisor)
        requirement = make_requirement(position=position, by=bench.supervisor, plan=plan)
        person = make_person(site=bench.site, role=Role.OPERATOR)
        begun = begin_draft(requirement=requirement, by=person)
        kept = keep_draft(
            draft=begun, fields=bench.fields(), answers={}, version=begun.version, settles=False, by=person
        )
        drafts.append(kept.pk)
    return drafts


def sign(drafts: Iterable[int]) -> list[float]:
    """Sign every draft by the action; return seconds of each."""
    from assets.proofs import demo_proof
    from calibration.actions.sets import sign_set
    from calibration.models import Draft

    taken = []
    for pk in drafts:
        draft = Draft.objects.select_related("person", "site").get(pk=pk)
        proof = demo_proof(draft.person)
        begun = time.perf_counter()
        sign_set(draft=draft, version=draft.version, proof=proof, by=draft.person)
        taken.append(time.perf_counter() - begun)
    return taken


def noted(drafts: list[int]) -> list[list[Statement]]:
    """Sign every draft once and return the inserts of each, those into one table together."""
    from django.db import connection

    found = []
    for pk in drafts:
        with written(connection) as statements:
            sign([pk])
        found.append([Statement(sql, rows) for sql, rows in statements.items()])
    return found


@contextmanager
def written(connection: Any) -> Any:
    """Collect the rows of every insert, by its statement."""
    statements: dict[str, list[tuple[Any, ...]]] = defaultdict(list)

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith("INSERT"):
            into, _, values = sql.partition(" VALUES ")
            count = values.partition(")")[0].count("%s")
            bare = f"{into} VALUES ({', '.join('?' * count)})"
            statements[bare] += [tuple(params[n : n + count]) for n in range(0, len(params), count)]
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield statements


def put_in(checks: list[list[Statement]]) -> list[float]:
    """Put the rows of every check in by bare SQL, one transaction a check; return seconds of each."""
    from django.db import connection

    connection.ensure_connection()
    bare = connection.connection
    taken = []
    for statements in checks:
        begun = time.perf_counter()
        bare.execute("BEGIN IMMEDIATE")
        for statement in statements:
            bare.executemany(statement.sql, statement.rows)
        bare.execute("COMMIT")
        taken.append(time.perf_counter() - begun)
    return taken


def compare(folder: Path, *, rounds: int) -> Callable[[], object]:
    """Measure, say what came of it, and return a round's work for a profile."""
    whole = place.copied(folder / "spanwell.sqlite3", folder / "signing.sqlite3")
    drafts = prepare(whole)
    scratch = folder / "signing-scratch.sqlite3"
    place.copied(whole, scratch)
    checks = noted(drafts)
    tables = sum(len(statements) for statements in checks) / len(checks)
    rows = sum(len(statement.rows) for statements in checks for statement in statements) / len(checks)
    say(f"  One signed check, as found and as left: {rows:.0f} rows into {tables:.0f} tables, one commit.")

    def signing() -> float:
        place.copied(whole, scratch)
        return statistics.median(sign(drafts))

    def bare() -> float:
        place.copied(whole, scratch)
        return statistics.median(put_in(checks))

    def one_sync() -> float:
        return sync_time(folder / "one-page")

    cases = {"signing action": signing, "same rows, bare": bare, "one 4 kB write and sync": one_sync}
    times = take_turns(cases, rounds=rounds)
    for name, taken in times.items():
        say(f"  {name:<28} {spread(taken, ' ms', 1000)}")
    found = ratios(times["signing action"], times["same rows, bare"])
    say(f"  Ratio of the same round, n = {rounds} rounds of {CHECKS} checks:")
    say(f"    signing / bare: {spread(found)}; aim at most {AIM:g}: {verdict(statistics.median(found), AIM)}")
    place.copied(whole, scratch)
    return partial(sign, drafts)


def sync_time(path: Path) -> float:
    """Seconds this disk takes to write 4 kB through, the least any commit can cost."""
    with path.open("ab", buffering=0) as file:
        begun = time.perf_counter()
        file.write(b"x" * 4096)
        os.fdatasync(file.fileno())
        return time.perf_counter() - begun
