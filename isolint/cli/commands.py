"""All commands as one, and what becomes of their errors."""

from __future__ import annotations

from collections.abc import Sequence

import click

from isolint import __version__
from isolint.cli import INTERRUPTED
from isolint.cli.audit import audit
from isolint.cli.barrier import barrier
from isolint.cli.baseline import baseline
from isolint.cli.check import check
from isolint.cli.compare import compare
from isolint.cli.facts import facts
from isolint.cli.init import init
from isolint.cli.parts import parts
from isolint.cli.post import post
from isolint.cli.record import record
from isolint.cli.review import review
from isolint.cli.rules import rules
from isolint.cli.streams import complain
from isolint.cli.worksheet import worksheet
from isolint.errors import FAULTS, IsolintError, itself_failed


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="%(prog)s %(version)s")
def commands() -> None:
    """Check the isolated interfaces of a circuit from its netlist.

    isolint finds every coupler, solves what drives it and what it drives at the worst case, and looks for anything
    that joins the two sides of a barrier. It supports a review, it certifies nothing.
    """


for command in (check, review, post, audit, record, compare, worksheet, barrier, init, baseline, facts, parts, rules):
    commands.add_command(command)


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give its exit status; no error of the input leaves as an exception."""
    try:
        status: object = commands.main(list(arguments), prog_name="isolint", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        return INTERRUPTED
    except IsolintError as error:
        complain(str(error))
        return error.exit_status
    except (RecursionError, MemoryError):
        complain("the netlist is nested too deeply or is too large for this machine (check its parts one by one)")
        return IsolintError.exit_status
    except BrokenPipeError:
        # Only click's own help comes here; its reader has left.
        return 0
    except OSError as error:
        complain(f"the job could not be done: {(error.strerror or str(error)).lower()}")
        return IsolintError.exit_status
    except FAULTS as error:
        complain(itself_failed(error))
        return IsolintError.exit_status
    return status if isinstance(status, int) else 0
