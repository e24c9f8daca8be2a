"""The pages of the rules, made from the book itself."""

from dataclasses import dataclass

from django.http import Http404

from fleet.fitness.rulebook import Rule, RuleBook

SUBJECTS = {
    "S": "Standing of the vehicle",
    "W": "Work in hand",
    "K": "What the operator's practice lacks",
    "B": "How the vehicle was built",
    "P": "Positions",
    "E": "Equipment",
    "R": "Requirements",
    "U": "Usage",
    "T": "Test results",
    "G": "Instruments",
    "C": "Competence",
    "F": "Brake force",
    "V": "Reservoirs",
    "M": "Tests after a change",
    "D": "Defects",
    "A": "Concessions",
    "I": "Isolations",
    "N": "Fleet notices",
    "O": "The other brake system",
}


@dataclass(frozen=True, slots=True)
class RuleGroup:
    """The rules of one subject."""

    subject: str
    rules: list[Rule]


@dataclass(frozen=True, slots=True)
class RulePage:
    """One rule, and what it says of its own example."""

    rule: Rule
    example: list[str]


def rule_rows(book: RuleBook) -> list[RuleGroup]:
    """Return the rules by subject, in the order of the book."""
    groups: dict[str, list[Rule]] = {}
    for rule in book:
        groups.setdefault(rule.code[0], []).append(rule)
    return [RuleGroup(SUBJECTS[letter], rules) for letter, rules in groups.items()]


def rule_page(book: RuleBook, code: str) -> RulePage:
    """Return a rule's page; 404 for a code the book does not have."""
    try:
        rule = book[code]
    except KeyError:
        raise Http404(f"The book has no rule {code}.") from None
    flags = rule.flags
    said = book.findings(flags.file, flags.policy)
    example = [f.text for f in said if f.code == code and f.holds_on(flags.on)]
    return RulePage(rule, example)
