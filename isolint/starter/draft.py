"""Whether a netlist could be judged with other texts in its files, before anybody writes them.

In: a netlist, the name of a file with a text. Out: the context, or the `SettingsError` that the text would make.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from isolint.app import Options
from isolint.checking.context import Context
from isolint.preparing import locate, prepare
from isolint.source import FolderTree


class DraftTree(FolderTree):
    """A folder with other texts in some of its files."""

    def __init__(self, root: str | os.PathLike[str], texts: Mapping[str, bytes]) -> None:
        super().__init__(root)
        self._texts = texts

    def read(self, path: str) -> bytes:
        """The text of a file, as it would be."""
        return self._texts[path] if path in self._texts else super().read(path)

    def exists(self, path: str) -> bool:
        """Whether a file would be there."""
        return path in self._texts or super().exists(path)


def prepared(netlist: str, options: Options, texts: Mapping[str, str]) -> Context:
    """Read a netlist with its settings and records, `texts` in the files of these names."""
    tree, inner, root = locate(netlist, options.root)
    inside = {
        Path(os.path.abspath(name)).relative_to(tree.root).as_posix(): text.encode("utf-8")
        for name, text in texts.items()
    }
    context, _ = prepare(DraftTree(tree.root, inside), inner, root)
    return context
