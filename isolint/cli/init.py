"""`isolint init`: a first isolint.toml."""

from __future__ import annotations

import click

from isolint.cli.files import store
from isolint.cli.streams import deliver


@click.command(short_help="Write a first isolint.toml beside a netlist.")
@click.argument("netlist")
@click.option("--print", "only_print", is_flag=True, help="Print it instead of writing it.")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def init(netlist: str, only_print: bool, root: str | None) -> int:
    """Write isolint.toml beside the NETLIST: what was inferred and from what, and what is missing as questions.

    The fact that settles most open results comes first. A file that exists is never overwritten.
    """
    import shlex

    from isolint import app, starter
    from isolint.reports.escape import terminal

    made = starter.start(netlist, app.Options(root=root))
    if only_print:
        deliver(made.text)
        return 0
    store({made.file: made.text}, roots={made.file: made.root}, new=True)
    number = "1 question" if made.questions == 1 else f"{made.questions} questions"
    deliver(
        f"{terminal(made.file)}: written, with {number}; answer them from the top and run\n"
        f"  isolint check {'-- ' if netlist.startswith('-') else ''}{terminal(shlex.quote(netlist))}\n"
    )
    return 0
