"""What an outcome says, in the words of a test."""

from clearances.services.verb import Outcome, Refused


def codes(outcome: Outcome) -> list[str]:
    """The codes of the refusals; it has to be refused."""
    assert isinstance(outcome, Refused), outcome
    return [refusal.code for refusal in outcome.refusals]


def texts(outcome: Outcome) -> list[str]:
    """The sentences of the refusals; it has to be refused."""
    assert isinstance(outcome, Refused), outcome
    return [refusal.text for refusal in outcome.refusals]


def leans_on(outcome: Outcome) -> set[str]:
    """The clauses that the refusals name, each with its mark."""
    assert isinstance(outcome, Refused), outcome
    return {str(refusal.clause) for refusal in outcome.refusals}
