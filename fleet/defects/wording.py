"""What an effect does to the level, in words. Pure."""

from fleet.register.vocabulary import Effect, Scope, System


def effect_words(effect: Effect, scope: Scope | None) -> str:
    """Return what a defect of this effect does, as it goes on after the effect's name."""
    match effect:
        case Effect.ADVISE:
            return "worth knowing; the level stays as it is"
        case Effect.CONDITION:
            return "fit braked under a condition in plain words"
        case Effect.DISCOUNT:
            return "at best conveyed as piped"
        case Effect.ISOLATE:
            return (
                f"not to run{_trains(scope)} until the isolation record is complete, "
                "then convey as piped"
            )
        case Effect.STOP:
            return _never(scope)


def _never(scope: Scope | None) -> str:
    where = _trains(scope).strip()
    return f"{where}, not even as piped" if where else "in any train, not even as piped"


def _trains(scope: Scope | None) -> str:
    """Return which trains a defect of this scope bears on; "" for any."""
    if scope is None or scope is Scope.VEHICLE:
        return ""
    if scope.systems == (System.AIR,):
        return " in an air train"
    if scope.systems == (System.VACUUM,):
        return " in a vacuum train"
    return " in an air or a vacuum train"


def possible_effects(scope: Scope | None) -> list[Effect]:
    """Return the effects an assessment may give: a through pipe is not let off lightly."""
    if scope is None or not scope.through_pipe:
        return list(Effect)
    if scope is Scope.MAIN_RESERVOIR_PIPE:
        return [Effect.CONDITION, Effect.STOP]
    return [Effect.STOP]
