"""What a fault weighs on a pipe that runs through the train. Pure."""

from fleet.register.vocabulary import Effect, Scope

_MAY_STAND = (Effect.ADVISE, Effect.CONDITION)


def weighed(scope: Scope, effect: Effect) -> Effect:
    """
    Return the effect of a faulty or missing part: never less than stop on a through pipe.

    A fault of the main reservoir pipe may be a condition, one-pipe working.
    """
    if not scope.through_pipe:
        return effect
    if scope is Scope.MAIN_RESERVOIR_PIPE and effect in _MAY_STAND:
        return effect
    return Effect.STOP
