"""A waiver that is over, or that nothing matches any more.

## What it looks at

Every `[[waivers]]` entry that counts for the netlist, against the failures found and the date of the check.

## Why it matters

A failure is accepted for a reason and for a time. When the time is over somebody has to look again; and a waiver that
matches nothing would silently accept the same failure when it comes back.

## How it is computed

A waiver accepts a failure when its `rule` is the failure's and its `where` names an element, part, net or side in the
failure's card, chain or subject. It counts through the day `until`; the day of the check is today, or the one given
with `--today`. With `bound = "margin >= 1.1"` it accepts only while the failure's margin is that large. One that is
malformed, over, out of its bound or matches no failure accepts nothing and is reported here. Open results can't be
waived.

```toml
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDB"]
[[waivers]]
rule = "ground-tie"
where = "R9"
reason = "bench fixture only, both sides are safety extra-low voltage"
by = "hardware lead"
until = 2999-12-31
```

## Fails

The waiver's own file is where this failure stands.

```netlist
* The tie was removed, the waiver was not (demonstration)
* expect: waiver-stale file=isolint.toml
V1 V5 GND 5
R1 V5 GND 1k
V2 VB GNDB 5
R2 VB GNDB 1k
```

## Passes

```netlist
* The tie is there and accepted (demonstration)
V1 V5 GND 5
R1 V5 GND 1k
V2 VB GNDB 5
R2 VB GNDB 1k
R9 GND GNDB 0
```

## Remedy

Remove the waiver, correct its `rule` and `where`, cure the failure, or have the waiver renewed by its role.

## What it cannot see

Whether the reason is a good one. A waiver in a settings file that several netlists share is reported as matching
nothing only where all of them were judged.
"""

from __future__ import annotations

from isolint.checking.rule import Rule

RULE = Rule(
    slug="waiver-stale",
    group="reading",
    level="warning",
    page=__doc__,
    facts=("waivers.until", "waivers.where", "waivers.rule", "waivers.bound"),
    judges=("waivers",),
    acceptable=False,
)
