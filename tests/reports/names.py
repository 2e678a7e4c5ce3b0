"""Names as a stranger could write them into a netlist, for the tests of what every format makes of them."""

from __future__ import annotations

from hypothesis import strategies as st

MARKS = ":: |::error |##[|##vso[|%0A|%|,|:|`|``|\\|*|_|<|>|<!--|-->|</script>|<script>|]]>|&amp;|&commat;|=|+|-|@|@all"
WORDS = "/|/close|#1|!1|~bug|%1|$1|:smile:|http://a.example|www.a.example|[a](b)|![|1. |# |    | |deadbeef1|GND|V3V3|Ω"
PIECES = (
    *(MARKS + "|" + WORDS).split("|"),
    *("|", '"', "'", "\n", "\r", "\t", "\x1b[31m", "\u202e", "\u2028", "\u200b", "\ufffe", "\ud800"),
)
hostile = st.lists(st.sampled_from(PIECES) | st.text(max_size=4), max_size=8).map("".join)
