"""Where the settings of a netlist stand."""

from __future__ import annotations

import posixpath

FILE_NAME = "isolint.toml"
RECORDS_NAME = "parts.toml"
"""The file of part records beside the nearest settings, where no settings name any."""


def settings_paths(netlist: str, root: str = "") -> tuple[str, ...]:
    """Where isolint.toml may stand for a netlist: its folder first, then every folder up to `root`."""
    folder = posixpath.dirname(posixpath.normpath(netlist))
    top = "" if root in ("", ".") else posixpath.normpath(root)
    folders = [folder]
    while folder and folder != top:
        folder = posixpath.dirname(folder)
        folders.append(folder)
    if top and folders[-1] != top:
        # The netlist lies outside the root: only its own folder counts.
        folders = folders[:1]
    return tuple(posixpath.join(name, FILE_NAME) for name in folders)
