"""The error a person reads when a record is refused: field, sentence, code."""

from django.core.exceptions import ValidationError


def refusing(message: str, *, code: str, field: str = "") -> ValidationError:
    """
    Return the refusal to raise; keyed by field where the form has one.

    Django drops the code of an error built from a plain mapping of sentences, so the
    inner error carries it.
    """
    single = ValidationError(message, code=code)
    return ValidationError({field: single}) if field else single


def codes_of(error: ValidationError) -> set[str]:
    """Return every code in an error, whatever field it stands at."""
    if hasattr(error, "error_dict"):
        inner = [e for errors in error.error_dict.values() for e in errors]
    else:
        inner = list(error.error_list)
    return {e.code for e in inner if e.code}
