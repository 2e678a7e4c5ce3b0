"""One memo for all that is computed once: by the function that computes it and by what it was asked of.

In another setting, or with another value of a resistor, it is computed again only where it was computed from something
that is another there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import nullcontext
from functools import wraps
from typing import Concatenate, NamedTuple, ParamSpec, Protocol, TypeVar, cast

from isolint.interfaces.entities import Channel, Part
from isolint.worstcase.budget import Meter, OverBudget
from isolint.worstcase.uncertain import Lacking, Setting
from isolint.worstcase.watch import Sources, Watch, same_in

Key = tuple[object, ...]


class KnownValue(NamedTuple):
    """What was computed, in a setting (None where it was asked for in none), and from what."""

    value: object
    setting: Setting | None
    sources: Sources


class Remembering(Protocol):
    """Whoever has quantities that are computed once. meter: counts what they take, by channel.

    memo: what is known, by what was asked for beside the setting. base, changed: whoever knows the same of a netlist in
    which the value of this element is another.
    """

    memo: dict[Key, list[KnownValue]]
    changed: int | None
    watch: Watch

    @property
    def base(self) -> Remembering | None: ...

    @property
    def meter(self) -> Meter: ...


S = TypeVar("S", bound=Remembering)
P = ParamSpec("P")
T = TypeVar("T")
Quantity = Callable[Concatenate[S, P], T]


def once(compute: Quantity[S, P, T]) -> Quantity[S, P, T]:
    """Compute a quantity once for what it is asked of; that it is lacking, or too much work, is kept too, and raised
    again.

    An argument left out is the same as its default; channels and parts are known by their names. What is computed must
    hold nothing that asks the setting `setting` later: see `apart`.
    """
    return _once(compute, shared=True)


def apart(compute: Quantity[S, P, T]) -> Quantity[S, P, T]:
    """As `once`, each setting and each netlist for itself: for whoever holds on to them."""
    return _once(compute, shared=False)


def _once(compute: Quantity[S, P, T], shared: bool) -> Quantity[S, P, T]:
    code = compute.__code__
    names = code.co_varnames[1 : code.co_argcount]
    defaults = dict(zip(reversed(names), reversed(compute.__defaults__ or ()), strict=False))
    place = names.index("setting") if "setting" in names else None

    @wraps(compute)
    def known(owner: S, /, *args: P.args, **named: P.kwargs) -> T:
        asked = [*args, *(named[name] if name in named else defaults[name] for name in names[len(args) :])]
        setting = None if place is None else cast(Setting, asked[place])
        key = (compute, *(_identity(each) for number, each in enumerate(asked) if number != place))
        found = _found(owner, key, setting, shared)
        if found is None:
            if place is not None and setting is not None:
                asked[place] = owner.watch.watching(setting)
            found = _computed(owner, compute, asked, setting)
            owner.memo.setdefault(key, []).append(found)
        else:
            owner.watch.note_all(found.sources)
        if isinstance(found.value, (Lacking, OverBudget)):
            raise found.value
        return cast(T, found.value)

    return known


def _found(owner: Remembering, key: Key, setting: Setting | None, shared: bool) -> KnownValue | None:
    """What is known already of what is asked for."""
    own = owner.memo.get(key, ())
    for found in own:
        if found.setting == setting:
            return found
    if not shared:
        return None
    alike = _alike(own, setting)
    if alike is None and owner.base is not None:
        alike = _alike((each for each in owner.base.memo.get(key, ()) if owner.changed not in each.sources), setting)
    return alike


def _alike(known: Iterable[KnownValue], setting: Setting | None) -> KnownValue | None:
    """What was computed in a setting that gives the same for all that it was computed from."""
    for found in known:
        if isinstance(found.value, OverBudget):
            continue
        if setting is None or found.setting is None or same_in(setting, found.setting, found.sources):
            return found
    return None


def _computed(owner: S, compute: Callable[..., object], asked: list[object], setting: Setting | None) -> KnownValue:
    about = asked[0] if asked else None
    of_channel = isinstance(about, Channel)
    value: object
    charged = owner.meter.charged_to(about.subject) if isinstance(about, Channel) else nullcontext()
    with owner.watch.noting() as sources, charged:
        try:
            if of_channel:
                owner.meter.check()
            value = compute(owner, *asked)
        except Lacking as without:
            value = without
        except OverBudget as without:
            # What concerns the netlist is asked for by others too, who have an allowance left.
            if not of_channel:
                raise
            value = without
    return KnownValue(value, setting, frozenset(sources))


def _identity(argument: object) -> object:
    if isinstance(argument, Channel):
        return argument.subject
    return argument.element if isinstance(argument, Part) else argument
