"""What an effect does to the level, in words. Pure."""

from fleet.register.vocabulary import Effect, Scope, System


def effect_words(effect: Effect, scope: Scope | None) -> str:
    """Return what a defect of this effect does, for the trains its scope names."""
    match effect:
        case Effect.ADVISE:
            return "Worth knowing; the level stays as it is."
        case Effect.CONDITION:
            return "Fit braked under a condition in plain words."
        case Effect.DISCOUNT:
            return "Not counted as braked: at best conveyed as piped."
        case Effect.ISOLATE:
            return (
                f"{_stop(scope)} until the isolation record is complete; then convey "
                "as piped."
            )
        case Effect.STOP:
            return f"{_stop(scope)}, not even as piped."


def _stop(scope: Scope | None) -> str:
    if scope is None or scope is Scope.VEHICLE:
        return "Not to run"
    if scope.systems == (System.AIR,):
        return "Not to run in an air train"
    if scope.systems == (System.VACUUM,):
        return "Not to run in a vacuum train"
    return "Not to run in an air or a vacuum train"


def possible_effects(scope: Scope | None) -> list[Effect]:
    """Return the effects an assessment may give: a through pipe is not let off lightly."""
    if scope is None or not scope.through_pipe:
        return list(Effect)
    if scope is Scope.MAIN_RESERVOIR_PIPE:
        return [Effect.CONDITION, Effect.STOP]
    return [Effect.STOP]
