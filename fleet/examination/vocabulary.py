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
