"""Words of examination: kinds of line, answers. Pure."""

from fleet.register.vocabulary import Word


class TestSubject(Word):
    """What a procedure is carried out on."""

    __test__ = False

    VEHICLE = "vehicle", "Vehicle"
    EQUIPMENT = "equipment", "Item of equipment"


class LineKind(Word):
    """How a line is answered."""

    QUESTION = "question", "Question"
    MEASURED = "measured", "Measured"
    CHOICE = "choice", "Choice"
    TRACE = "trace", "Trace"
    SURVEY = "survey", "Thickness survey"


ATTACHED = frozenset({LineKind.TRACE, LineKind.SURVEY})  # more hangs on the answer


class Repeat(Word):
    """What a line is asked for each of, on the vehicle it is carried out on."""

    NONE = "", "Asked once"
    CYLINDER = "cylinder", "Each brake cylinder"
    HANDLE = "handle", "Each passenger communication handle"
    END = "end", "Each end"


class Stage(Word):
    """Whether a line asks before or after adjusting."""

    NONE = "", "No matter"
    AS_FOUND = "as_found", "As found"
    AS_LEFT = "as_left", "As left"


class Found(Word):
    """What a reading stands for; a trace can give all but the piston stroke."""

    NONE = "", "Nothing: it is read off"
    FILL_TIME = "fill_time", "Time to fill, to a percentage of the maximum"
    MAXIMUM = "maximum", "Maximum pressure"
    RELEASE_TIME = "release_time", "Time to release to the threshold"
    LEAKAGE = "leakage", "Leakage while held"
    FALL_TIME = "fall_time", "Train pipe: time to fall to a level"
    REDUCTION = "reduction", "Train pipe: how far it falls"
    RISE_TIME = "rise_time", "Train pipe: time to come back to a level"
    STROKE = "stroke", "Piston stroke"
    THINNEST = "thinnest", "Thinnest point of the thickness survey"


OF_TRAIN_PIPE = frozenset({Found.FALL_TIME, Found.REDUCTION, Found.RISE_TIME})
READ_AT_LEVEL = frozenset({Found.RELEASE_TIME, Found.FALL_TIME, Found.RISE_TIME})
TRACED = frozenset(Found) - {
    Found.NONE,
    Found.STROKE,
    Found.THINNEST,
}  # what a trace can give


class InstrumentState(Word):
    """Standing of a test gauge or rig."""

    IN_USE = "in_use", "In use"
    AWAY = "away", "Away for calibration"
    WITHDRAWN = "withdrawn", "Withdrawn"


class Answer(Word):
    """
    What was found; for a measured line `met` and `not met` are computed.

    A reading on a line without limits is `recorded`: nothing to judge it by was set.
    """

    MET = "met", "Met"
    NOT_MET = "not_met", "Not met"
    RECORDED = "recorded", "Recorded, no limit set"
    NOT_DONE = "not_done", "Not done, because"
    NOT_APPLICABLE = "not_applicable", "Not applicable, because"


REASONED = frozenset({Answer.NOT_DONE, Answer.NOT_APPLICABLE})  # owe a reason


class Result(Word):
    """What a test comes to; always computed from its readings."""

    PASSED = "passed", "Passed"
    FAILED = "failed", "Failed"
    INCOMPLETE = "incomplete", "Not complete"
