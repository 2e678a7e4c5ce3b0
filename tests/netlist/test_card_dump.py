"""The text dump of a whole netlist."""

from __future__ import annotations

from isolint.netlist.card_dump import dump
from tests.netlist.reading import read_text

BOARD = """an invented board
.include demo.lib
.param vdd=3.3 rx={2*rl}
.global VSS
.temp 40
V1 vdd 0 {vdd}
R1 vdd a 10k
+ tc1=1m
XU1 a k out gnd_f DEMO_PT1 ctr=2
E1 x 0 VALUE={v(a)*2}
V2 s 0 PULSE(0 5 1n)
R2 out
.func f(x) {x*2}
.end
"""
LIBRARY = """* invented
.subckt DEMO_PT1 A K C E ctr=1
D1 A K LED
F1 C E V9 {ctr}
.model LED D(IS=1e-14 N=2)
.ends
"""
DUMP = """\
(file board.cir utf-8 title='an invented board')
(file demo.lib utf-8)
(global vss)
(temperature 40)
(param vdd=3.3)
(param rx={2*rl})
(func f(x) {x*2})
(V V1 vdd 0 {vdd} @board.cir:6)
(R R1 vdd a 10k tc1=1m @board.cir:7)
(X XU1 a k out gnd_f =DEMO_PT1 ctr=2 @board.cir:9)
(E E1 x 0 <a> value={v(a)*2} @board.cir:10)
(V V2 s 0 PULSE(0 5 1n) @board.cir:11)
(subckt DEMO_PT1 [A K C E] ctr=1 @demo.lib:2)
  (model LED d is=1e-14 n=2 @demo.lib:5)
  (D D1 A K =LED @demo.lib:3)
  (F F1 C E <V9> {ctr} @demo.lib:4)
[error malformed-card R2 @board.cir:12:6] resistor R2 has one node; expected `Rname n1 n2 value`
16 of 17 cards understood, 1 malformed
"""


def test_a_dump_shows_everything_that_was_read_on_one_screen() -> None:
    assert dump(read_text(BOARD, {"demo.lib": LIBRARY})) == DUMP
