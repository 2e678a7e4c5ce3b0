"""One memo for all that is computed once: by the function that computes it and by what it was asked of."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from functools import wraps
from typing import Concatenate, ParamSpec, Protocol, TypeVar, cast

from isolint.interfaces.entities import Channel, Part
from isolint.worstcase.budget import Meter, OverBudget
from isolint.worstcase.uncertain import Lacking


class Remembering(Protocol):
    """Whoever has quantities that are computed once. meter: counts what they take, by channel."""

    memo: dict[tuple[object, ...], object]

    @property
    def meter(self) -> Meter: ...


S = TypeVar("S", bound=Remembering)
P = ParamSpec("P")
T = TypeVar("T")


def once(compute: Callable[Concatenate[S, P], T]) -> Callable[Concatenate[S, P], T]:
    """Compute a quantity once for what it is asked of; that it is lacking, or too much work, is kept too, and raised
    again.

    An argument left out is the same as its default; channels and parts are known by their names.
    """
    count = compute.__code__.co_argcount - 1
    defaults = compute.__defaults__ or ()

    @wraps(compute)
    def known(owner: S, /, *args: P.args, **named: P.kwargs) -> T:
        left = count - len(args) - len(named)
        key = (compute, *map(_identity, args), *named.items(), *defaults[len(defaults) - left :])
        if key not in owner.memo:
            about = args[0] if args else None
            of_channel = isinstance(about, Channel)
            with owner.meter.charged_to(about.subject) if isinstance(about, Channel) else nullcontext():
                try:
                    if of_channel:
                        owner.meter.check()
                    owner.memo[key] = compute(owner, *args, **named)
                except Lacking as without:
                    owner.memo[key] = without
                except OverBudget as without:
                    # What concerns the netlist is asked for by others too, who have an allowance left.
                    if not of_channel:
                        raise
                    owner.memo[key] = without
        found = owner.memo[key]
        if isinstance(found, (Lacking, OverBudget)):
            raise found
        return cast(T, found)

    return known


def _identity(argument: object) -> object:
    if isinstance(argument, Channel):
        return argument.subject
    return argument.element if isinstance(argument, Part) else argument
