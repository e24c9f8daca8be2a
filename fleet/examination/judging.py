"""Judging: a reading against the limits of its line, a test by its readings. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from fractions import Fraction

from fleet.engineering.units import converted, refuse_impossible, unit_of
from fleet.examination.vocabulary import Answer

PLACES = 4  # decimals a reading and a limit are kept to
WHOLE_DIGITS = 8
SHOWN_PLACES = (
    3  # decimals a converted value is shown to, more where that would mislead
)

SETTLED = frozenset({Answer.MET, Answer.NOT_APPLICABLE, Answer.RECORDED})


@dataclass(frozen=True, slots=True)
class Limits:
    """What a measured line allows; both limits are inclusive, either may be missing."""

    quantity: str
    unit: str
    low: Decimal | None = None
    high: Decimal | None = None

    @property
    def stated(self) -> bool:
        """Say whether there is anything to judge by."""
        return self.low is not None or self.high is not None

    @property
    def words(self) -> str:
        """Return the limits as a fitter reads them: "15 to 20 s", "at most 0.2 bar"."""
        low, high = plain(self.low), plain(self.high)
        if self.low is not None and self.high is not None:
            span = low if self.low == self.high else f"{low} to {high}"
            return with_unit(span, self.unit)
        if self.low is not None:
            return f"at least {with_unit(low, self.unit)}"
        if self.high is not None:
            return f"at most {with_unit(high, self.unit)}"
        return "no limit set"


@dataclass(frozen=True, slots=True)
class Judged:
    """The answer that follows from a reading, and the words for it."""

    answer: Answer
    words: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result of a test: passed; lines without an answer; lines not met."""

    passed: bool
    unanswered: int
    failed: int


def judge(value: Decimal, unit: str, limits: Limits) -> Judged:
    """
    Judge a reading in any unit of the line's quantity; its digits are shown as given.

    Limits are inclusive. A reading in another unit is converted in fractions and judged
    on the exact value; only what is shown is rounded. Without limits a reading is
    recorded, not judged. Raises ValueError with a sentence for a unit or value that
    cannot be.
    """
    unit = unit_of(limits.quantity, unit)
    refuse_impossible(value, unit)
    words = with_unit(f"{value:f}", unit)
    if not limits.stated:
        return Judged(Answer.RECORDED, f"{words}, no limit set")
    exact = converted(value, unit, limits.unit)
    met = _within(exact, limits)
    if unit != limits.unit:
        words = f"{words} ({_shown(exact, limits)} {limits.unit})"
    answer = Answer.MET if met else Answer.NOT_MET
    return Judged(answer, f"{words}, limit {limits.words}")


def outcome(answers: Iterable[tuple[bool, Answer | None]]) -> Outcome:
    """
    Return the result from (is the line required, its answer or None) of every line.

    Passed only if every required line was met, recorded where no limit is set, or not
    applicable with its reason, and no line at all was answered `not met`.
    """
    lines = list(answers)
    unanswered = sum(
        required and answer in {None, Answer.NOT_DONE} for required, answer in lines
    )
    settled = all(not required or answer in SETTLED for required, answer in lines)
    failed = sum(answer is Answer.NOT_MET for _, answer in lines)
    return Outcome(settled and not failed, unanswered, failed)


def read_number(typed: str) -> Decimal:
    """
    Read a number as typed.

    Raises ValueError with a sentence: for what is no number, for a comma, which may
    stand for either thing, and for more digits than are kept.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    if "," in text:
        raise ValueError("Write the number with a point, such as 3.8, and no comma.")
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"“{typed.strip()}” is not a number.") from None
    if not value.is_finite():
        raise ValueError(f"“{typed.strip()}” is not a number.")
    if abs(value) >= 10**WHOLE_DIGITS:
        raise ValueError("That number is too large for any gauge.")
    if value != round(value, PLACES):
        raise ValueError(f"Give the number to {PLACES} decimals at most.")
    return value


def plain(value: Decimal | None) -> str:
    """Return a number without trailing zeros or exponent; "" for none."""
    if value is None:
        return ""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(number: str, unit: str) -> str:
    """Put the unit behind a number; a count has none to show."""
    return number if unit in {"", "count"} else f"{number} {unit}"


def _within(value: Fraction, limits: Limits) -> bool:
    above = limits.low is None or value >= Fraction(limits.low)
    return above and (limits.high is None or value <= Fraction(limits.high))


def _shown(exact: Fraction, limits: Limits) -> str:
    """Round for showing, but never so far that the number says the other answer."""
    met = _within(exact, limits)
    value = Decimal(exact.numerator) / Decimal(exact.denominator)
    rounded = value
    for places in range(SHOWN_PLACES, 3 * PLACES):
        rounded = value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        if _within(Fraction(rounded), limits) == met:
            break
    return plain(rounded)
