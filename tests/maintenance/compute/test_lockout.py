"""What a lockout amounts to, as properties over invented stories.

Basis of the rules: 29 CFR 1910.147 (d)(6), (e), (f)(1), second-hand. The stories are ours; each property says how the
answer may and may not change, so that it needs no second copy of the rules.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.lockout import (
    PEOPLE,
    TOOLS,
    Fits,
    Fitted,
    Hung,
    Note,
    Run,
    Source,
    Story,
    Who,
    box_is_closed,
    fits,
    standing,
)
from maintenance.compute.lockout_job import Life, life_of
from maintenance.compute.lockout_next import headline, next_act
from maintenance.compute.lockout_off import questions_of, stops_closing, stops_off
from maintenance.compute.lockout_procedure import Written, WrittenLine, gaps
from maintenance.compute.lockout_stamps import last_of, normal
from maintenance.compute.lockout_steps import is_ending, steps

T0 = dt.datetime(2026, 11, 25, 8, 0, tzinfo=dt.UTC)
ANA, BEN, KIM = Who(1, "Ana", "555 0100"), Who(2, "Ben"), Who(3, "K")


def source(n: int, *, relief: str = "none, because dry", added: int = 0) -> Source:
    return Source(
        id=n,
        number=n,
        energy=f"energy {n}",
        point_id=n,
        point=f"valve V-{n}",
        safe_state="shut",
        relief=relief,
        test="look",
        added_number=added,
    )


def note(number: int, kind: str, *, by: Who = ANA, **other: object) -> Note:
    at = T0 + dt.timedelta(minutes=number)
    return Note(number=number, kind=kind, by=by, at=at, recorded_at=at, **other)  # type: ignore[arg-type]


def hung(number: int, owner: Who, *, point: int | None = None, box: int | None = None, key: int | None = None) -> Hung:
    return Hung(
        id=number,
        number=number,
        lock_id=number,
        lock=str(number),
        owner=owner,
        point_id=point,
        box_id=box,
        place=f"valve V-{point}" if point else "box 3",
        on_at=T0 + dt.timedelta(minutes=number),
        key_in=key,
    )


def story_tested() -> Story:
    """Two points, the second with stored energy; keys in the box, K's lock on it, both sources tested."""
    return Story(
        number=1,
        tag="P-2",
        revision=4,
        in_charge=ANA,
        in_charge_may=True,
        box_id=9,
        box="box 3",
        written_for_id=70,
        written_for="pump 8-2214",
        fitted=Fitted(5, 70, "pump 8-2214"),
        withdrawn_because="",
        questions=("Guard on",),
        acceptance=("Primed",),
        sources=(source(1), source(2, relief="open the drain")),
        hung=(
            hung(5, ANA, point=1, key=7),
            hung(6, BEN, point=2, key=8),
            hung(11, KIM, box=9),
        ),
        notes=(
            note(1, "told before", topic="Ines"),
            note(2, "shut down"),
            note(3, "point set", source_id=1),
            note(4, "point set", source_id=2),
            note(9, "box closed"),
            note(10, "relieved", source_id=2),
            note(12, "tested", source_id=1, tester="M-4", text="0"),
            note(13, "tested", source_id=2, tester="M-4", text="0"),
        ),
    )


def test_the_story_is_tested_and_k_alone_may_work() -> None:
    stand = standing(story_tested())
    assert stand.verified
    assert stand.may_work == (KIM,)
    assert stand.verified_by is not None and stand.verified_by.number == 13


VOIDING = {
    "a further lock on a point": lambda s: replace(s, hung=(*s.hung, hung(20, BEN, point=1, key=21))),
    "a lock off a point": lambda s: replace(
        s, hung=(replace(s.hung[0], off_number=20, off_at=T0), *s.hung[1:], hung(21, ANA, point=1, key=22))
    ),
    "a relief": lambda s: replace(s, notes=(*s.notes, note(20, "relieved", source_id=2))),
    "a point set": lambda s: replace(s, notes=(*s.notes, note(20, "point set", source_id=1))),
    "a point freed by another job": lambda s: replace(s, notes=(*s.notes, note(20, "point released", source_id=1))),
    "a point added": lambda s: replace(
        s,
        sources=(*s.sources, source(3, added=20)),
        hung=(*s.hung, hung(22, ANA, point=3, key=23)),
        notes=(*s.notes, note(21, "point set", source_id=3)),
    ),
    "a test run": lambda s: replace(s, notes=(*s.notes, note(20, "test run begun", topic="10"))),
    "a test run that ended": lambda s: replace(
        s, notes=(*s.notes, note(20, "test run begun", topic="10"), note(21, "test run ended"))
    ),
    "an answer that it does not fit": lambda s: replace(
        s, fitted=Fitted(6, 71, "pump 8-2291"), notes=(*s.notes, note(20, "fits", answer="no", fitting_id=6))
    ),
}


@pytest.mark.parametrize("change", VOIDING)
def test_a_later_change_at_a_point_voids_the_test(change: str) -> None:
    stand = standing(VOIDING[change](story_tested()))
    assert not stand.verified
    assert stand.may_work == ()
    assert stand.verified_by is None


@given(st.integers(min_value=14, max_value=500), st.sampled_from([ANA, BEN, Who(7, "J")]))
def test_a_personal_lock_on_the_box_voids_nothing_and_adds_its_owner(number: int, owner: Who) -> None:
    story = story_tested()
    stand = standing(replace(story, hung=(*story.hung, hung(number, owner, box=9))))
    assert stand.verified
    assert set(stand.may_work) == {KIM, owner}


@given(st.lists(st.integers(min_value=-10_000, max_value=10_000), min_size=8, max_size=8))
def test_clocks_decide_nothing(minutes: list[int]) -> None:
    """L4: order is by number; the times of phones may stand anywhere."""
    story = story_tested()
    moved = tuple(
        replace(n, at=n.at + dt.timedelta(minutes=m), recorded_at=n.recorded_at + dt.timedelta(minutes=m))
        for n, m in zip(story.notes, minutes, strict=True)
    )
    assert standing(replace(story, notes=moved)).verified


@given(st.permutations(range(8)))
def test_the_order_of_rows_decides_nothing(order: list[int]) -> None:
    story = story_tested()
    mixed = replace(story, notes=tuple(story.notes[n] for n in order), hung=story.hung[::-1])
    assert standing(mixed).verified
    assert box_is_closed(mixed)


@given(st.integers(min_value=0, max_value=7))
def test_without_any_one_record_it_is_not_tested(left_out: int) -> None:
    """L5: told, down, each point set, relief and each test are all needed; the box's closing for the workers."""
    story = story_tested()
    less = replace(story, notes=tuple(n for place, n in enumerate(story.notes) if place != left_out))
    if story.notes[left_out].kind == "box closed":
        assert standing(less).may_work == ()
    else:
        assert not standing(less).verified


@given(st.integers(min_value=0, max_value=2))
def test_without_any_one_lock_nobody_works(left_out: int) -> None:
    story = story_tested()
    less = replace(story, hung=tuple(h for place, h in enumerate(story.hung) if place != left_out))
    assert standing(less).may_work == ()


def test_a_lockout_without_points_is_never_locked_out() -> None:
    empty = replace(story_tested(), sources=(), hung=(), notes=story_tested().notes[:2])
    assert not standing(empty).verified


def test_the_question_follows_the_fitting() -> None:
    """L14."""
    story = story_tested()
    other = replace(story, fitted=Fitted(6, 71, "pump 8-2291"))
    assert (fits(story), fits(other)) == (Fits.NOT_ASKED, Fits.OPEN)
    answered = replace(other, notes=(*other.notes, note(20, "fits", answer="yes", fitting_id=6)))
    assert fits(answered) is Fits.YES
    assert fits(replace(answered, fitted=Fitted(8, 71, "pump 8-2291"))) is Fits.OPEN
    assert fits(replace(story, fitted=None)) is Fits.NOT_ASKED
    assert fits(replace(story, written_for_id=None)) is Fits.OPEN


def test_every_reason_that_stops_a_lock_is_given_at_once() -> None:
    story = replace(story_tested(), fitted=Fitted(6, 71, "pump 8-2291"))
    sentences = [r.sentence for r in stops_off(story, story.hung[2], by=KIM.id, now=T0)]
    assert sentences[0].startswith(
        "Waiting for Ana, 555 0100 to answer for the plant: pump 8-2291 is fitted; revision 4"
    )
    assert sentences[1:] == ["Guard on: not answered.", f"{TOOLS}: not answered.", f"{PEOPLE}: not answered."]


@given(st.integers(min_value=0, max_value=120))
def test_people_out_counts_up_to_fifteen_minutes(minutes: int) -> None:
    """L22; the limit is our own."""
    story = story_tested()
    answers = tuple(note(30 + n, "answered", by=KIM, topic=t, answer="yes") for n, t in enumerate(questions_of(story)))
    told = replace(story, notes=(*story.notes, *answers))
    now = answers[-1].recorded_at + dt.timedelta(minutes=minutes)
    stops = stops_off(told, told.hung[2], by=KIM.id, now=now)
    assert bool(stops) is (minutes > 15)


def test_a_test_run_asks_two_questions_and_closing_all() -> None:
    story = story_tested()
    asked = replace(story, notes=(*story.notes, note(20, "test run asked")))
    assert questions_of(story) == ("Guard on", TOOLS, PEOPLE)
    assert questions_of(asked) == (TOOLS, PEOPLE)
    assert standing(asked).run is Run.ASKED and standing(asked).may_work == ()


def test_closing_names_each_lock_still_on() -> None:
    assert [r.sentence for r in stops_closing(story_tested())] == [
        "5 (Ana, 555 0100) is still on valve V-1.",
        "6 (Ben) is still on valve V-2.",
        "11 (K) is still on box 3.",
    ]


@given(st.integers(min_value=0, max_value=60), st.booleans())
def test_a_link_lives_while_a_lock_is_on_then_reads_for_thirty_days(days: int, closed_by_hand: bool) -> None:
    story = story_tested()
    now = T0 + dt.timedelta(days=days)
    ended = Life.ENDED
    assert life_of(story, KIM.id, closed=closed_by_hand, now=now) is (ended if closed_by_hand else Life.LIVE)
    off = replace(story, hung=(*story.hung[:2], replace(story.hung[2], off_number=20, off_at=T0)))
    assert life_of(off, KIM.id, closed=False, now=now) is (Life.READ_ONLY if days <= 30 else ended)


def test_a_lock_off_for_a_test_run_keeps_the_link_live() -> None:
    story = story_tested()
    off = replace(
        story,
        notes=(*story.notes, note(19, "test run asked")),
        hung=(*story.hung[:2], replace(story.hung[2], off_number=20, off_at=T0)),
    )
    assert life_of(off, KIM.id, closed=False, now=T0 + dt.timedelta(days=99)) is Life.LIVE


def test_the_next_act_is_each_persons_own() -> None:
    story = story_tested()
    assert (next_act(story, KIM.id).key, next_act(story, KIM.id).target) == ("off", 11)
    assert next_act(story, ANA.id).key == ""
    assert headline(story).word == "Tested"
    assert not is_ending(story)
    off = replace(story, hung=(*story.hung[:2], replace(story.hung[2], off_number=20, off_at=T0)))
    assert is_ending(off)
    assert (next_act(off, ANA.id).key, next_act(off, ANA.id).target) == ("off", 5)
    assert headline(off).text == "P-2 must not be started."
    assert [s.key for s in steps(off)][:2] == ["begun", "off"]


@pytest.mark.parametrize("word", ["safe", "OK"])
def test_no_headline_says_that_anything_is_safe(word: str) -> None:
    stories = [story_tested(), *(change(story_tested()) for change in VOIDING.values())]
    assert not [s for s in stories if word in f"{headline(s).word} {headline(s).text}".split()]


def test_a_written_procedure_without_gaps_has_none_and_each_gap_is_named() -> None:
    """29 CFR 1910.147 (c)(4)(ii), second-hand."""
    line = WrittenLine(number=1, energy="feed", point="B-2", safe_state="open", relief="none, because dry", test="V")
    whole = Written(purpose="a", shutdown="b", restore="c", lines=[line])
    assert gaps(whole) == []
    for field in ("purpose", "shutdown", "restore"):
        assert len(gaps(replace(whole, **{field: " "}))) == 1
    for field in ("safe_state", "relief", "test"):
        assert len(gaps(replace(whole, lines=[replace(line, **{field: " "})]))) == 1
    stored = WrittenLine(number=2, energy="spring", relief="block it", test="look")
    assert gaps(replace(whole, lines=[line, stored])) == []
    assert len(gaps(replace(whole, lines=[line, replace(stored, relief="none, because weak")]))) == 1
    assert len(gaps(replace(whole, lines=[stored]))) == 1


@given(st.text(alphabet="abcXYZ0189- ", min_size=3, max_size=12))
def test_characters_read_from_metal_are_compared_without_case_spaces_and_strokes(text: str) -> None:
    assert normal(text.lower()) == normal(text.upper()) == normal(f" {text} ")
    assert len(last_of(text)) <= 3 and normal(text).endswith(last_of(text))
