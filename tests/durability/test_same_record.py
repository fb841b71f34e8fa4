"""Two people who change one record: the second is told, nothing is overwritten, what they typed stays in the form."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from tests.durability.browser import Answer, Browser, Form, forms_of
from tests.durability.site import Site

ROUNDS = 20
TOLD = "was changed by somebody else"


def edit(browser: Browser, pk: int) -> Form:
    """The page on which a tag is changed, as it stands now."""
    return browser.form(f"/plant/tags/{pk}/edit/", "service")


def shown_again(answer: Answer) -> dict[str, str]:
    """The fields of the form on a page that refused it."""
    (form,) = [form for form in forms_of(answer.page) if "service" in form.fields]
    return form.fields


def test_who_saves_second_from_an_old_page_is_told_and_keeps_what_was_typed(
    site: Site, plant: dict[str, Any], device: Callable[[int], Browser]
) -> None:
    tag = plant["tags"][1]
    ana, ben = device(0), device(1)
    of_ana, of_ben = edit(ana, tag), edit(ben, tag)
    acts, refusals = (site.asked("events", verb=verb) for verb in ("position.changed", "refused"))

    assert ana.send(of_ana.filled(service="pH, filter outlet")).kept
    typed = of_ben.filled(service="pH, clearwell", range_high="12", matters_for="production")
    refused = ben.send(typed)

    assert refused.status == 422
    assert TOLD in refused.page
    unchanged = {name: text for name, text in typed.fields.items() if name != "csrfmiddlewaretoken"}
    again = shown_again(refused)
    assert {name: again[name] for name in unchanged} == unchanged
    kept = site.asked("position", pk=tag)
    assert (kept["service"], kept["range_high"]) == ("pH, filter outlet", "14")
    assert site.asked("events", verb="position.changed") == acts + 1
    assert site.asked("events", verb="refused") == refusals + 1


def test_after_looking_again_the_second_can_save(
    plant: dict[str, Any], device: Callable[[int], Browser], site: Site
) -> None:
    tag = plant["tags"][2]
    ana, ben = device(0), device(1)
    old = edit(ben, tag)
    assert ana.send(edit(ana, tag).filled(service="pH, raw water")).kept
    assert not ben.send(old.filled(service="pH, clearwell")).kept
    assert ben.send(edit(ben, tag).filled(service="pH, raw water, low lift")).kept
    assert site.asked("position", pk=tag)["service"] == "pH, raw water, low lift"


def test_of_two_who_save_in_the_same_moment_through_two_processes_one_is_kept_and_one_is_told(
    site: Site, plant: dict[str, Any], device: Callable[[int], Browser]
) -> None:
    tag = plant["tags"][3]
    people = [device(0), device(1)]
    acts = site.asked("events", verb="position.changed")
    for number in range(ROUNDS):
        forms = [edit(browser, tag).filled(service=f"pH, {number} by {n}") for n, browser in enumerate(people)]
        answers = at_once(people, forms)
        assert sorted(answer.status for answer in answers) == [302, 422], [answer.page[:500] for answer in answers]
        loser = next(n for n, answer in enumerate(answers) if not answer.kept)
        assert TOLD in answers[loser].page
        assert shown_again(answers[loser])["service"] == forms[loser].fields["service"]
        shown = edit(people[0], tag).fields["service"]
        assert shown == forms[1 - loser].fields["service"]
    assert site.asked("events", verb="position.changed") == acts + ROUNDS
    assert site.asked("faults") == []


def at_once(people: list[Browser], forms: list[Form]) -> list[Answer]:
    """Send everybody's form in the same moment."""
    gate = threading.Barrier(len(people))

    def send(browser: Browser, form: Form) -> Answer:
        gate.wait(20)
        return browser.send(form)

    with ThreadPoolExecutor(len(people)) as pool:
        return list(pool.map(send, people, forms))
