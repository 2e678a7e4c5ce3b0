"""Runs one fuzz target under atheris: `python -m tests.fuzz TARGET [--seconds N]`.

Exit status 0 when nothing was found.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
SECONDS_FOR_ONE = 10
MEBIBYTES = 1024
RUN = 60
"""Cards in a run; from 24 on they are read together."""


def seeds(target: str) -> list[bytes]:
    """Fixtures to mutate: netlists and libraries, or settings joined with part records."""
    from tests.fuzz.targets import SPLIT

    if target in ("netlist", "lanes"):
        files = [path for end in ("*.cir", "*.lib") for path in sorted((ROOT / "fixtures").rglob(end))]
        texts = [path.read_bytes() for path in files]
        return [*texts, *(runs(texts) if target == "lanes" else ())]
    records = [path.read_bytes() for path in sorted(ROOT.rglob("parts/*.toml"))]
    return [
        path.read_bytes() + SPLIT + record
        for path in sorted((ROOT / "fixtures").rglob("isolint.toml"))
        for record in records[:2]
    ]


def runs(texts: list[bytes]) -> list[bytes]:
    """The element cards of netlists in runs that are long enough to be read together, no name twice in one."""
    cards = [line for text in texts for line in text.splitlines() if line[:1].isalpha() and b" " in line]
    numbered = [card.replace(b" ", b"_%d " % at, 1) for at, card in enumerate(cards)]
    return [b"\n".join((b"* a run", *numbered[at : at + RUN])) for at in range(0, len(numbered), RUN)]


def main() -> None:
    """Set up the corpus and hand over to libFuzzer, which prints the number of executions at the end."""
    import atheris

    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("target", choices=("netlist", "lanes", "settings"))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with atheris.instrument_imports(include=["isolint"]):
        from tests.fuzz.targets import TARGETS

        # Much is imported where it is first needed: one round over the seeds brings it all in while imports
        # are instrumented.
        for seed in seeds(options.target):
            TARGETS[options.target](seed)
    corpus = Path(tempfile.mkdtemp(prefix="isolint-fuzz-"))
    for number, seed in enumerate(seeds(options.target)):
        (corpus / f"seed{number}").write_bytes(seed)
    flags = [
        f"-max_total_time={options.seconds}",
        f"-timeout={SECONDS_FOR_ONE}",
        f"-rss_limit_mb={MEBIBYTES}",
        f"-seed={options.seed}",
        "-max_len=20000",
        "-print_final_stats=1",
        f"-artifact_prefix={corpus}/found-",
        str(corpus),
    ]
    atheris.Setup([sys.argv[0], *flags], TARGETS[options.target])
    atheris.Fuzz()


if __name__ == "__main__":
    main()
