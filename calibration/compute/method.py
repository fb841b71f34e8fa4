"""What a method of checking an instrument is made of: what it asks, how it judges, what it finds wrong.

Every kind of instrument is one module in `calibration/compute/methods/` that fills a `Method` with these classes. The
classes know no kind of instrument, no Django and no clock. Every number is an exact `Fraction` of the typed text, so
that a value that stands exactly on its limit passes; floats are used for square roots and for pictures only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Generic, Literal, Protocol, TypeAlias, TypeVar

from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import TemperatureTable

if TYPE_CHECKING:
    from calibration.compute.budget import Budget

Weight: TypeAlias = Literal["refuse", "not valid", "ask", "remind"]
Tag: TypeAlias = Literal["standard", "common practice", "from memory", "own judgement", "site setting"]
Verdict: TypeAlias = Literal["pass", "conditional pass", "conditional fail", "fail"]
Validity: TypeAlias = Literal["valid", "not valid", "asked", "incomplete"]
ModelKind: TypeAlias = Literal["offset", "gain", "two-point", "by points", "window"]
Then: TypeAlias = Literal["stands", "not valid", "fail", "write again"]

VERDICTS: tuple[Verdict, ...] = ("pass", "conditional pass", "conditional fail", "fail")
"""From best to worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One number as a person typed it (`text`, mark normalised to a point) and its exact value.

    `unit` is the unit it was typed in; `value` is in the first unit of its field. `converted` says that the two differ.
    """

    text: str
    value: Fraction
    unit: str = ""
    converted: bool = False

    @property
    def decimals(self) -> int:
        """Digits after the mark: the resolution of what was read."""
        return len(self.text.partition(".")[2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One field of the form, the record, the export and the import.

    `kind` is number, choice, yes or no, text, day or standard; a standard is one of the kinds in `of`. `part` says when
    it is asked: see `Method.parts`. `units` lists the units a number may be typed in, the first is the one it is kept
    in. `each` names the row of the set the field belongs to ('point', 'run', 'face', 'grab'); `times` tells how many
    such rows there are at least and at most. The name of the field is then 'point1_' + name, or, where the row can
    stand once only, 'third_' + name. `signed` asks for plus or minus before the number. `low` and `high` are what such
    an instrument can show at all, in the first unit. `rare` fields are folded away: a routine check does not need them.
    """

    name: str
    label: str
    part: str
    units: tuple[str, ...] = ()
    kind: str = "number"
    must: bool = False
    signed: bool = False
    low: Fraction | None = None
    high: Fraction | None = None
    times: tuple[int, int] = (1, 1)
    each: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    advice: str = ""
    of: tuple[str, ...] = ()
    rare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The limits one value is judged by, with their source; `uncertainty` widens nothing, it marks the edges."""

    low: Fraction | None
    high: Fraction | None
    unit: str
    source: str
    tag: Tag
    uncertainty: Fraction | None = None
    uncertainty_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A default limit of a method. `low` and `high` may be functions of what is known and of the standard's value."""

    name: str
    what: str
    unit: str
    of: str
    source: str
    tag: Tag
    low: Fraction | Callable[[Known, Fraction], Fraction] | None
    high: Fraction | Callable[[Known, Fraction], Fraction] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One value against one limit; several make the verdict, the worst decides, one verdict a face.

    `name` is its code, `what` its words. `value` is a number, or True/False for what can only be so or not. `of` is
    the denominator of a percentage.
    `uncertainty` is the expanded uncertainty (k = 2) of the value in its own unit; None = not stated.
    """

    name: str
    what: str
    value: Fraction | bool
    unit: str
    of: str
    low: Fraction | None
    high: Fraction | None
    at: Fraction | None = None
    face: str = "display"
    shown: Fraction | None = None
    standard: Fraction | None = None
    uncertainty: Fraction | None = None
    source: str = ""
    tag: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the working: what is computed, the formula with its figures put in, and what it gives.

    `figures` can be worked out again by hand from what is printed and gives `value` at the digits shown. Signs are
    printed as such: − (minus), × (times), √( ), ². An empty `figures` is a line of words.
    """

    text: str
    figures: str
    value: str
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One result by its name: exact (a float only after a square root), with the text the page shows."""

    name: str
    label: str
    value: Fraction | float
    shown: str
    unit: str

    @property
    def exact(self) -> str:
        """The value as text that loses nothing: '−1/10' is stored as '-1/10'."""
        return str(self.value) if isinstance(self.value, Fraction) else repr(self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """A remark on the instrument, apart from the verdict; `word` is short, `sentence` says what to do."""

    what: str
    word: str
    sentence: str
    gravity: int
    source: str
    tag: Tag


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """The shape of the error, for carrying it back over readings; `points` are (true, shown)."""

    kind: ModelKind
    points: tuple[tuple[Fraction, Fraction], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """All that follows from the numbers of one reading set, as far as they have been typed."""

    judged: tuple[Judged, ...]
    lines: tuple[Line, ...]
    model: Model
    figures: tuple[Figure, ...] = ()
    advice: tuple[Advice, ...] = ()
    next_value: Mapping[str, Fraction] = field(default_factory=dict)

    def figure(self, name: str) -> Fraction | float | None:
        """Return the exact value of the named figure, or None when it could not be worked out."""
        return next((one.value for one in self.figures if one.name == name), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer to a question, and what follows from it: the value stands, is not valid, is a fail, is rewritten."""

    code: str
    label: str
    then: Then


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a person answered, with the reason; `asked` is the sentence answered, so that a changed figure asks anew."""

    choice: str
    reason: str = ""
    asked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Something wrong or doubtful: its weight, the field it stands at, and a whole sentence.

    refuse: cannot be signed until it is mended. not valid: kept, neither pass nor fail. ask: needs one of `choices`,
    answered under `key`. remind: printed, nothing follows. `about` names the one judged value that alone falls out
    ('third'); empty = the whole set.
    """

    weight: Weight
    field: str
    sentence: str
    key: str
    choices: tuple[Choice, ...] = ()
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the record holds about the place and its standards at the day of the reading: plain data, built by reads.

    `standards` by the key a field of kind 'standard' holds. `limits` overrides the defaults of the method by name.
    `settings` are the site's texts, asked once with the requirement by `Method.settings` (pH: 'slope_sign',
    'working_ph'; a loop: 'lower', 'upper'); numbers as typed with a point. `last` are figures of earlier sets and
    checks, under the names of `Worked.next_value`. `uses` says what the signal does ('paces P-41'). `forced` are the
    values written as forced at this place now. `unit_key` and `unit_label` name the instrument fitted there.
    `guarded` is True where the requirement judges with the uncertainty: then the method's own budget counts unless a
    limit states an uncertainty of its own.
    """

    day: date
    standards: Mapping[str, Standard] = field(default_factory=dict)
    tables: Mapping[str, TemperatureTable] = field(default_factory=dict)
    limits: Mapping[str, Band] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    last: Mapping[str, Fraction] = field(default_factory=dict)
    uses: tuple[str, ...] = ()
    forced: tuple[str, ...] = ()
    unit_key: str = ""
    unit_label: str = ""
    guarded: bool = False

    def number(self, name: str) -> Fraction | None:
        """Return a setting that is a number; None where the site has written none."""
        text = self.settings.get(name, "").strip()
        return Fraction(text) if text else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What could be read of a form: numbers, choices and yes/no by field name, and a sentence for the rest."""

    numbers: Mapping[str, Typed] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    marks: Mapping[str, bool] = field(default_factory=dict)
    unread: tuple[Found, ...] = ()


class Inputs(Protocol):
    """What every method's own inputs have: the kind of set, the answers given, and what could not be read."""

    @property
    def kind(self) -> str:
        """as found, confirming or as left."""

    @property
    def answers(self) -> Mapping[str, Answer]:
        """The answers given, by the key of the question."""

    @property
    def unread(self) -> tuple[Found, ...]:
        """What was typed and could not be read."""


I = TypeVar("I", bound=Inputs)  # noqa: E741 (the inputs of one method)


STAGES: tuple[str, ...] = ("as found", "as left")
PARTS: Mapping[str, tuple[str, ...]] = {
    "as found": ("before", "as found", "reading set"),
    "confirming": ("before", "reading set"),
    "as left": ("before", "reading set", "as left"),
}
"""Which parts of the asks a set of each kind shows: 'before' is asked once and carried over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled:
    """A figure of an earlier set: as `Known.last` names it, as it was stored, and of which check.

    `of_this_check`: of a set before it in the same check, for its as left; else as left of the check before, of the
    same instrument.
    """

    name: str
    figure: str
    of_this_check: bool = False


RECALLED = (Recalled(name="error", figure="error", of_this_check=True), Recalled(name="hours", figure="hours"))
"""What a method may fall back on unless it says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Method(Generic[I]):
    """One way of checking one kind of instrument. `version` changes with every change of a result.

    `read` builds the inputs from what was entered, the kind of set and the answers given. `settings` are asked once,
    with the requirement. `legends` are the words of the rows ('point': 'Point'). `stages` are the kinds of set there
    are: a method with 'as found' alone is a test that nothing is read again after. `headline` is the judged value that
    stands first. `carried` are the fields that a later set takes over. `skipped_by` names the kinds of study that make
    no sense for it ('chart', 'drift', 'pooling'). `budget` gives the components of the uncertainty of each judged
    value by its name, empty where the standard's own is not stated; `budget_since` is the version that first drew it.
    `by_point` says that its readings stand in the points of one line (point1_ to third_), each a standard with entries
    of its own: form, record, page and paper tell them point by point, and the result by the line. `recalls` are the
    figures of earlier sets that it may fall back on; `after_return` is asked as left, back in service.
    """

    code: str
    name: str
    version: str
    quantity: str
    standards: tuple[str, ...]
    asks: tuple[Ask, ...]
    limits: tuple[Limit, ...]
    cautions: tuple[str, ...]
    work: Callable[[I, Known], Worked]
    catches: tuple[Callable[[I, Known, Worked], tuple[Found, ...]], ...]
    read: Callable[[Entered, str, Mapping[str, Answer]], I]
    words: Mapping[str, str] = field(default_factory=dict)
    settings: tuple[Ask, ...] = ()
    legends: Mapping[str, str] = field(default_factory=dict)
    stages: tuple[str, ...] = STAGES
    parts: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: PARTS)
    headline: str = "error"
    carried: tuple[str, ...] = ()
    skipped_by: frozenset[str] = frozenset()
    budget: Callable[[I, Known, Worked], Mapping[str, Budget]] | None = None
    budget_since: str = "1.0"
    by_point: bool = False
    recalls: tuple[Recalled, ...] = RECALLED
    after_return: tuple[Ask, ...] = ()
    sees: Literal["sensor", "to display", "to HMI"] = "to display"


AnyMethod: TypeAlias = Method[Any]


def band_for(limits: tuple[Limit, ...], known: Known, name: str, *, standard: Fraction = Fraction(0)) -> Band:
    """Return the limits in force for one judged value: the site's own, else the default of the method.

    Raises LookupError when there is no limit of that name.
    """
    if name in known.limits:
        return known.limits[name]
    limit = next((one for one in limits if one.name == name), None)
    if limit is None:
        raise LookupError(f"There is no limit named {name}.")
    low = limit.low(known, standard) if callable(limit.low) else limit.low
    high = limit.high(known, standard) if callable(limit.high) else limit.high
    return Band(low=low, high=high, unit=limit.unit, source=limit.source, tag=limit.tag)
