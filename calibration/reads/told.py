"""What a reading set comes to, told for a page: the result in words, its figures, its advice, its line, its working."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.chart import Picture
from assets.compute.chart_line import LineFigures, Straight, line_picture
from assets.compute.chart_line import Point as Dot
from calibration.compute.budget import expanded_in
from calibration.compute.conformity import hardest_first
from calibration.compute.figures import sentence_case, shown
from calibration.compute.method import Advice, AnyMethod, Judged, Known, Line, Verdict
from calibration.compute.methods import METHODS, ph
from calibration.compute.reporting import shown_up
from calibration.compute.verdict import Outcome as Result
from calibration.models import Outcome, ReadingSet
from calibration.reads.line import LineTold, line_live, line_stored
from calibration.reads.stored import AnyInputs, advice_in, inputs_of, judged_in, lines_in
from calibration.reads.sure import SureWords, sure_words
from calibration.reads.words import State, judged_value, limit_words, together, verdict_state

NEUTRAL = 7.0
HEALTHY_OFFSET = 30.0


@dataclass(frozen=True, slots=True)
class Item:
    """One figure of the strip: what, the number with its unit, and what stands under it."""

    what: str
    number: str
    unit: str
    under: tuple[str, ...] = ()
    state: State | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the working as drawn: what, figures, what it gives, and the result on the judged lines."""

    text: str
    figures: str
    gives: str
    source: str
    state: State | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one set comes to. `because` are the sentences of a set that is not valid."""

    state: State
    sentence: str
    because: tuple[str, ...]
    strip: tuple[Item, ...]
    advice: tuple[Advice, ...]
    rows: tuple[Row, ...]
    sure: tuple[SureWords, ...]
    line: LineTold | None
    line_rows: tuple[Row, ...]
    picture: Picture | None
    short: str
    limits_from: tuple[str, ...]
    uncertainty_stated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Numbers:
    state: State
    verdict: str
    because: tuple[str, ...]
    judged: tuple[tuple[Judged, Verdict], ...]
    figures: Mapping[str, tuple[float, str, str]]
    lines: tuple[Line, ...]
    advice: tuple[Advice, ...]
    method: AnyMethod
    inputs: AnyInputs
    counts_up: bool
    name: str
    line: LineTold | None


def told_live(result: Result, inputs: AnyInputs, known: Known, *, name: str = "line") -> Told:
    """Tell a set that is being written: what it comes to so far."""
    return _told(
        _Numbers(
            state=live_state(result),
            verdict=result.would_be or "",
            because=result.because,
            judged=tuple(result.judged),
            figures={one.name: (float(one.value), one.shown, one.unit) for one in result.worked.figures},
            lines=result.worked.lines,
            advice=result.worked.advice,
            method=METHODS[result.method],
            inputs=inputs,
            counts_up=known.settings.get("slope_sign") == "positive",
            name=name,
            line=line_live(METHODS[result.method], result.worked.model, result.worked.judged, known.settings),
        )
    )


def live_state(result: Result) -> State:
    """Return how a set that is being written is drawn."""
    if result.because:
        return State("Not valid, because", "notvalid", "still")
    if result.would_be is None:
        return State("Nothing to judge yet", "asks", "still")
    state = verdict_state(result.would_be)
    if result.validity == "valid":
        return state
    return State(f"So far: {state.word.lower()}", state.shape, state.ink)


def told_stored(of: ReadingSet, outcome: Outcome) -> Told:
    """Tell a signed set from what was stored with it; nothing is worked out anew."""
    method, judged = METHODS[of.check_of.method], judged_in(outcome)
    return _told(
        _Numbers(
            state=verdict_state(outcome.verdict, valid=outcome.valid),
            verdict=outcome.verdict,
            because=(outcome.because,) if outcome.because else (),
            judged=judged,
            figures={one.name: (one.value, one.shown, one.unit) for one in outcome.figures.all()},
            lines=lines_in(outcome),
            advice=advice_in(outcome),
            method=method,
            inputs=inputs_of(of, decimal_mark=of.check_of.site.decimal_mark),
            counts_up=outcome.term.slope_sign == "rising",
            name=of.kind.replace(" ", "-"),
            line=line_stored(method, outcome, judged),
        )
    )


def _told(given: _Numbers) -> Told:
    line = None if given.because else given.line
    return Told(
        state=given.state,
        sentence=" ".join(_sentences(given)),
        because=given.because,
        strip=tuple(_strip(given) if given.method.by_point else _any_strip(given)),
        advice=given.advice,
        rows=tuple(_row(line, given.judged) for line in given.lines),
        sure=() if given.because else sure_words(given.judged, given.lines),
        line=line,
        line_rows=() if line is None else tuple(_row(one, ()) for one in line.lines),
        picture=_picture(given),
        short=_short(given),
        limits_from=tuple(_limits_from([one for one, _ in given.judged if one.source])),
        uncertainty_stated=any(one.uncertainty is not None for one, _ in given.judged)
        or bool(expanded_in(given.lines)),
    )


def _limits_from(judged: Iterable[Judged]) -> Iterator[str]:
    """Say where each limit comes from, once for all that share a source."""
    names: dict[str, list[str]] = {}
    for one in judged:
        said = one.source if one.tag in ("", one.source) else f"{one.source} ({one.tag})"
        if one.what not in names.setdefault(said, []):
            names[said].append(one.what)
    for said, whats in names.items():
        yield f"Limit of the {together(whats)}: {said}"


def _sentences(given: _Numbers) -> Iterator[str]:
    if given.because:
        return
    if not given.method.by_point:
        for one, verdict in hardest_first(given.judged)[:SENTENCES]:
            yield _any_sentence(one, verdict, _written(one, given))
        return
    error = next(((one, verdict) for one, verdict in given.judged if one.name == "error"), None)
    if error is not None:
        yield _error_sentence(*error)
    for one, verdict in hardest_first(given.judged):
        if one.name != "error" and verdict != "pass":
            yield _other_sentence(one, verdict)


def _error_sentence(one: Judged, verdict: str) -> str:
    value = Fraction(one.value)
    size = judged_value(one).lstrip("+\u2212").split()[0]
    reads = "reads true" if value == 0 else f"reads {size} too {'high' if value > 0 else 'low'}"
    where = f"At the process, pH {shown(one.at, 2)}," if one.at is not None else "At the process"
    ends = {
        "pass": f"That is inside the limit, {limit_words(one)}.",
        "conditional pass": f"That is inside the limit, {limit_words(one)}, but by less than we can be sure of.",
        "conditional fail": f"That is outside the limit, {limit_words(one)}, but by less than we can be sure of.",
        "fail": f"That is outside the limit, {limit_words(one)}.",
    }
    return f"{where} the display {reads}. {ends[verdict]}"


SENTENCES = 3
"""Judged values told in words, worst first; all of them stand in the strip."""


def _written(one: Judged, given: _Numbers) -> str:
    """Write a judged value with its unit as the working shows it, where a figure of that name stands there."""
    _, text, unit = given.figures.get(one.name, (0.0, "", ""))
    return judged_value(one, as_figure=text if unit == one.unit else "")


def _any_sentence(one: Judged, verdict: str, value: str) -> str:
    what = sentence_case(one.what)
    if isinstance(one.value, bool):
        return f"{what}: {'yes' if one.value else 'no'}."
    of = f" of {one.of}" if one.of else ""
    where = "outside" if verdict in {"fail", "conditional fail"} else "inside"
    sure = ", but by less than we can be sure of" if verdict.startswith("conditional") else ""
    return f"{what}: {value}{of}, {where} the limit, {limit_words(one)}{sure}."


def _any_strip(given: _Numbers) -> Iterator[Item]:
    """The judged values, the headline first and face by face; then what else was worked out."""
    budgets = expanded_in(given.lines)
    first = sorted(given.judged, key=lambda pair: pair[0].name != given.method.headline)
    told: set[str] = set()
    for one, verdict in first:
        told.add(one.name)
        state = verdict_state(verdict)
        if isinstance(one.value, bool):
            yield Item(sentence_case(one.what), "", "", ("yes" if one.value else "no",), state)
            continue
        number, _, unit = _written(one, given).partition(" ")
        of = f" of {one.of}" if one.of else ""
        under = (f"limit {limit_words(one)}{of}, {_uncertainty_words(one, budgets, shown_up)}",)
        yield Item(sentence_case(one.what), number, unit, under, state)
    extra = [line for line in given.figures.items() if line[0] not in told][-EXTRA:]
    for name, (_, text, unit) in extra:
        yield Item(name.replace("_", " ").capitalize(), text, unit)


EXTRA = 3
"""Figures beside the judged ones that the strip shows; the working has them all."""


def _other_sentence(one: Judged, verdict: str) -> str:
    if isinstance(one.value, bool):
        return one.what
    told = verdict_state(verdict).word.lower()
    return f"{sentence_case(one.what)}: {judged_value(one)}, limit {limit_words(one)}: {told}."


def _short(given: _Numbers) -> str:
    for one, _ in hardest_first(given.judged):
        if not isinstance(one.value, bool):
            name = "error" if one.name == "error" else one.what
            return f"{name} {_written(one, given)} of {limit_words(one)}"
    return ""


def _strip(given: _Numbers) -> Iterator[Item]:
    for one, verdict in given.judged:
        if one.name == "error":
            at = f", pH {shown(one.at, 2)}" if one.at is not None else ""
            stated = _uncertainty_words(one, expanded_in(given.lines), _as_ph)
            number, unit = judged_value(one).rsplit(" ", 1)
            under = (f"limit {limit_words(one)}, {stated}",)
            yield Item(f"Error at the process{at}", number, unit, under, verdict_state(verdict))
    yield from _in_buffers(given)
    yield from _electrode(given)


def _as_ph(uncertainty: Fraction) -> str:
    """Write an uncertainty in pH with two decimals where they hold it, else rounded up."""
    plainly = shown(uncertainty, 2)
    return plainly if Fraction(plainly) == uncertainty else shown_up(uncertainty)


def _uncertainty_words(one: Judged, budgets: Mapping[str, str], write: Callable[[Fraction], str]) -> str:
    """Say what is known of the uncertainty of a judged value; one that the rule counts is put down by `write`."""
    if one.uncertainty is not None:
        return f"uncertainty {write(one.uncertainty) if one.uncertainty else '0'}"
    if one.what in budgets:
        return f"uncertainty {budgets[one.what]}, not part of this rule"
    return "uncertainty not stated"


def _in_buffers(given: _Numbers) -> Iterator[Item]:
    numbers = [n for n in (1, 2, 3) if f"error_{n}" in given.figures]
    if numbers:
        said = tuple(f"{given.figures[f'error_{n}'][1]} at pH {given.figures[f'true_{n}'][1]}" for n in numbers)
        yield Item("Error in the buffers", "", "", said)
    if "error_third" in given.figures:
        yield Item("Third buffer", given.figures["error_third"][1], "pH", tuple(_limit_under(given, "third")))


def _limit_under(given: _Numbers, name: str) -> Iterator[str]:
    for one, _ in given.judged:
        if one.name == name:
            yield f"limit {limit_words(one)}"


def _electrode(given: _Numbers) -> Iterator[Item]:
    figures = given.figures
    state = {one.name: verdict_state(verdict) for one, verdict in given.judged}
    percent = "percent_slope" if "percent_slope" in figures else "own_percent" if "own_percent" in figures else ""
    if percent:
        under = [f"{figures['slope'][1]} mV/pH"] if "slope" in figures else ["the transmitter's own"]
        yield Item("Slope", figures[percent][1], "%", (*under, *_limit_under(given, "slope")), state.get("slope"))
    offset = "offset" if "offset" in figures else "own_offset" if "own_offset" in figures else ""
    if offset:
        yield Item(
            "Offset at pH 7", figures[offset][1], "mV", tuple(_limit_under(given, "offset")), state.get("offset")
        )
    if "slope_now" in figures:
        yield Item("Slope now, an estimate", figures["slope_now"][1], "%")


def _row(line: Line, judged: Iterable[tuple[Judged, Verdict]]) -> Row:
    gives = f"= {_with_unit(line.value, line.unit)}" if line.value else ""
    starts = {"Error there": "error", "Slope as a part": "slope", "Offset at pH 7;": "offset", "Third buffer;": "third"}
    name = next((name for start, name in starts.items() if line.text.startswith(start)), "")
    state = next((verdict_state(verdict) for one, verdict in judged if one.name == name), None)
    if state is None and "; limit" in line.text:
        state = next((verdict_state(verdict) for one, verdict in judged if _is_of(one, line)), None)
    return Row(line.text, line.figures, gives, line.source, state)


def _is_of(one: Judged, line: Line) -> bool:
    """Tell whether a line of the working gives a judged value: the same number in the same unit."""
    if isinstance(one.value, bool) or one.unit != line.unit or not line.value:
        return False
    places = len(line.value.partition(".")[2])
    return shown(one.value, places, plus=line.value.startswith("+")) == line.value


def _with_unit(value: str, unit: str) -> str:
    plus = value.startswith(("+", "\u2212"))
    return f"pH {value}" if unit == "pH" and not plus else f"{value} {unit}".strip()


def _picture(given: _Numbers) -> Picture | None:
    figures = given.figures
    if not isinstance(given.inputs, ph.ReadingSet) or not {"slope", "offset", "nernst"} <= set(figures):
        return None
    found = _through_neutral(figures["slope"][0], figures["offset"][0])
    theory = _through_neutral(figures["nernst"][0] * (1 if given.counts_up else -1), 0.0)
    written = [point for number, point in enumerate(given.inputs.points, 1) if number == 1 or not point.is_empty]
    dots = tuple(
        _dot(figures[f"true_{number}"], float(point.mv.value), theory)
        for number, point in enumerate(written, 1)
        if point.mv is not None and f"true_{number}" in figures
    )
    if not dots:
        return None
    process = figures.get("process_ph")
    return line_picture(
        LineFigures(
            name=given.name,
            caption="The line through the buffers",
            points=dots,
            found=found,
            theory=theory,
            band=(
                Straight(slope=theory.slope, offset=theory.offset + HEALTHY_OFFSET),
                Straight(slope=theory.slope, offset=theory.offset - HEALTHY_OFFSET),
            ),
            band_word="shaded: offset within 30 mV of theory",
            upright=None if process is None else process[0],
            upright_word="process",
            columns=("Buffer", "Electrode", "Theory"),
            x_before="pH",
            y_unit="mV",
        )
    )


def _through_neutral(slope: float, offset: float) -> Straight:
    return Straight(slope=slope, offset=offset - NEUTRAL * slope)


def _dot(true: tuple[float, str, str], mv: float, theory: Straight) -> Dot:
    return Dot(
        x=true[0],
        y=mv,
        x_shown=f"pH {true[1]}",
        y_shown=f"{shown(Fraction(str(mv)), 1, plus=True)} mV",
        theory_shown=f"{shown(Fraction(theory.at(true[0])), 1, plus=True)} mV",
    )
