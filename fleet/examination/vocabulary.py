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
    """What was found; for a measured line `met` and `not met` are computed."""

    MET = "met", "Met"
    NOT_MET = "not_met", "Not met"
    NOT_DONE = "not_done", "Not done, because"
    NOT_APPLICABLE = "not_applicable", "Not applicable, because"
