"""Whatever a finding may lean on: somebody can say who stands behind it."""

from typing import get_args

from fleet.fitness.findings import EvidenceKind
from fleet.fitness.rules import BOOK
from fleet.fitness.witnesses import READERS
from tests.fitness.test_rules import flagged


def test_every_kind_of_evidence_a_finding_may_lean_on_has_a_reader():
    assert set(READERS) == set(get_args(EvidenceKind))


def test_what_the_rules_cite_in_their_examples_has_a_reader():
    cited = {
        piece.kind
        for rule in BOOK
        for finding in flagged(rule, rule.flags)
        for piece in finding.evidence
    }
    assert {"notice", "cock", "visit", "storage", "usage"} <= cited
    assert cited <= set(READERS)
