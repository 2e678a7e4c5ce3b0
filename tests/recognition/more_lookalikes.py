"""Further definitions that look like couplers and are none: power, interface, light, sensing and protecting parts.

Each family multiplies ways of writing its parts with each other; all are invented. Those nearest to couplers are here:
LEDs whose current something senses, inputs that conduct, stages with supplies of their own.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

Bodies = Iterator[tuple[str, str]]


def light_drivers() -> Bodies:
    """Drivers with the LED they drive inside, lamps and displays, LEDs with their brightness or heat as an output."""
    leds = ("D1 {p} {n} DL", "D1 {p} NL DL\nD2 NL {n} DL", "D1 {p} NL DL\nR1 NL {n} 3")
    for led in leds:
        held = led.format(p="VIN", n="NS")
        yield "VIN GND PWM FB", f"{held}\nVS NS NX 0\nG1 NX GND VALUE={{V(PWM,GND)*4m}}\nH1 FB GND VS 10"
        yield (
            "VIN GND EN ISET",
            f"{held}\nVS NS NX 0\nE1 G GND ISET GND 10\nM1 NX G GND GND NM\nR9 EN GND 100k\nR8 ISET GND 10k",
        )
        yield "A K TJ TA", led.format(p="A", n="NV") + "\nVS NV K 0\nB1 0 TJ I=I(VS)*V(A,K)\nRT TJ TA 90\nCT TJ 0 1m"
        yield "A K LM 0V", led.format(p="A", n="NV") + "\nVS NV K 0\nB1 LM 0 V=I(VS)*2500\nRL LM 0V 1meg\nR0 0V 0 1"
    yield "VIN SW FB GND CTRL", "S1 SW GND X 0 SX\nE1 X 0 CTRL GND 1\nD1 SW FB DL\nR1 VIN SW 1k\nR2 FB GND 10"
    yield "R G B COM", "D1 R COM DL\nD2 G COM DL\nD3 B COM DL\nV1 X 0 1\nE1 Y 0 R G 1\nR9 Y X 1k"
    yield "BAT LX OUT GND", "L1 BAT LX 4.7u\nD1 LX OUT DS\nB1 LX GND I=if(V(LX,GND)>3,1,0)\nR1 OUT GND 100k"


def inputs_that_conduct() -> Bodies:
    """Amplifiers and receivers whose input clamps and terminations are sensed, as people write them."""
    clamps = (
        "D1 P X DX\nD2 X P DX\nV1 X M 0",
        "R1 P X 200\nD1 X M DX\nD2 M X DX",
        "D1 P X DX\nD2 X M DX\nD3 M Y DX\nD4 Y P DX",
        "RT P M 120\nD1 P VP DX\nD2 VM M DX",
        "V1 P X 0\nR1 X M 50",
    )
    outputs = (
        "E1 Y GND VALUE={if(V(P,M)>0.1,V(VP,GND),0)}\nR9 Y OUT 40\nR8 VP GND 20k",
        "G1 GND OUT P M 10m\nR9 OUT GND 1k\nR8 VP VM 20k",
        "B1 Y 0 V=tanh(V(P,M)*50)\nR7 Y Z 1k\nC7 Z 0 1n\nE2 W VM VALUE={V(VP,VM)*(0.5+V(Z)/2)}\nR9 W OUT 20",
    )
    for clamp, output in product(clamps, outputs):
        yield ("P M VP VM OUT GND" if "GND" in output else "P M VP VM OUT"), f"{clamp}\n{output}"
    for idle in ("VQ Q GND 0.6", "VQ Q GND 1.2"):
        drive = "E1 X GND VALUE={if(V(DI,GND)>1.4,V(VCC,GND),0)}\nR1 X A 20\nE2 Y GND VALUE={V(VCC,GND)-V(X,GND)}"
        yield "DI GND VCC A B RE", f"{drive}\nR2 Y B 20\nR3 DI GND 100k\nR4 RE GND 100k\n{idle}\nR5 Q A 12k"


def converters() -> Bodies:
    """Switching and linear regulators, averaged ones, controllers, chargers, electronic fuses."""
    switches = (
        "S1 VIN SW PH 0 SX",
        "M1 VIN G SW SW NM\nE8 G SW PH 0 8",
        "B8 SW GND V=V(VIN,GND)*V(PH)",
        "G8 VIN SW PH 0 2",
    )
    sensing = (
        "E1 ER 0 VALUE={limit((0.8-V(FB,GND))*100,0,1)}",
        "G1 0 ER VALUE={(1.23-V(FB,GND))*1m}\nR1 ER 0 1meg\nC1 ER 0 1n",
    )
    for switch, sense in product(switches, sensing):
        body = f"{switch}\n{sense}\nR2 ER PH 1k\nC2 PH 0 1p\nD1 GND SW DS\nR3 VIN GND 50k\nR4 FB GND 1meg"
        yield "VIN GND SW FB", body
        yield "VIN GND SW FB EN BST", body + "\nR5 EN GND 500k\nD5 VIN BST DX\nR6 BST SW 100k"
    for sense in ("V1 IN X 0", "R1 IN X 10m"):
        meter = "F1 0 Y V1 1" if sense.startswith("V") else "G1 0 Y IN X 100"
        yield (
            "IN OUT GND FLT",
            f"{sense}\n{meter}\nR2 Y 0 1\nM1 X G OUT OUT NM\nE3 G OUT VALUE={{if(V(Y)>2,0,8)}}\nS2 FLT GND Y 0 SX\n"
            "R5 IN GND 30k",
        )
        yield "IN OUT GND IMON", f"{sense}\n{meter}\nR2 Y 0 1\nS1 X OUT Y 0 SX\nE2 IMON GND Y 0 1\nR5 IN GND 30k"
    yield "IN OUT ADJ GND", "D1 X ADJ DZ\nI1 IN X 50u\nQ1 IN B OUT QN\nG1 IN B X OUT 1\nR1 B OUT 1k\nR2 ADJ GND 1meg"
    yield (
        "VIN VOUT D GND",
        "E1 X GND VALUE={V(VIN,GND)*V(D,GND)}\nVS X VOUT 0\nG1 VIN GND VALUE={I(VS)*V(D,GND)}\nR1 D GND 1meg",
    )


def levels() -> Bodies:
    """Level shifters and half bridges, which have two supplies and one ground, or a floating high side."""
    for state in ("B1 X 0 V=u(V({i},GND)-0.5*V({a},GND))", "E1 X 0 VALUE={{if(V({i},GND)>1.2,1,0)}}"):
        shifted = state.format(i="A1", a="VCCA")
        yield (
            "VCCA VCCB GND A1 B1 OE",
            f"{shifted}\nE2 Y GND VALUE={{V(VCCB,GND)*V(X)}}\nR2 Y B1 30\nR3 A1 GND 1meg\nR4 OE VCCA 100k\n"
            "R5 VCCA GND 50k\nR6 VCCB GND 50k",
        )
        yield "VCCA VCCB GND A1 B1", f"{shifted}\nS1 VCCB B1 X 0 SX\nS2 B1 GND X 0 SX\nR5 VCCA GND 50k\nR6 VCCB GND 50k"
        bridge = state.format(i="IN", a="VDD")
        for out in (
            "S1 VB HO X 0 SX\nS2 HO VS X 0 SX",
            "E2 Y VS VALUE={V(VB,VS)*V(X)}\nR2 Y HO 4",
            "G2 VB HO X 0 1\nR2 HO VS 10",
        ):
            yield (
                "VDD IN GND VB HO VS LO",
                f"{bridge}\n{out}\nE3 Z GND VALUE={{V(VDD,GND)*(1-V(X))}}\nR3 Z LO 4\nR4 VDD GND 10k\n"
                "R5 VB VS 20k\nR6 IN GND 200k",
            )
        for relay in ("B2 A B I=V(A,B)*if(V(X)>0.5,0.2,1n)", "S3 A B X 0 SX\nD3 B A DX"):
            yield "VDD IN GND A B", f"{bridge}\n{relay}\nR4 VDD GND 10k\nR6 IN GND 200k"


def sensors() -> Bodies:
    """Sensors of light, field, heat, strain and current; thermistors, varistors, gaps, batteries, motors, crystals."""
    for law in ("V(LUX)*1u", "V(LUX)*10n+1n"):
        yield "LUX C E GND", f"R1 LUX GND 1meg\nB1 C B I={law}\nQ1 C B E QN\nR2 GND 0 1"
        yield "LUX GND A K", f"R1 LUX GND 1k\nG1 K A VALUE={{{law}}}\nD1 A K DX"
    for path in ("R1 IP IN 1m", "V1 IP IN 0"):
        sensed = "V(IP,IN)*400" if path[0] == "R" else "I(V1)*0.4"
        yield "IP IN VCC GND OUT", f"{path}\nE1 X GND VALUE={{V(VCC,GND)/2+{sensed}}}\nR2 X OUT 10"
    for heat in ("V(A,B)*I(VS)", "V(A,B)*V(A,B)/100"):
        yield "A B TJ TC", f"VS A X 0\nB1 0 TJ I={heat}\nRT TJ TC 5\nB2 X B I=V(X,B)/(100+V(TJ))"
        yield "A B T G", f"VS A X 0\nR1 X B R=100*(1+0.004*V(T,G))\nR2 T G 1k\nB1 G T I={heat}"
    yield "A B C D", "B1 A B I=1e-12*V(A,B)**7\nB2 C D I=1e-12*V(C,D)**7"
    yield "A B G E", "B1 A B I=if(abs(V(A,B))>90,V(A,B),1n)\nB2 B G I=if(abs(V(B,G))>90,V(B,G),1n)\nR1 E G 1"
    yield "P N SOC RS", "VS P X 0\nE1 X Y VALUE={3+V(SOC,RS)}\nR1 Y N 20m\nF1 SOC RS VS 1m\nC1 SOC RS 1\nR2 SOC RS 1e9"
    yield (
        "M1 M2 W GNDW",
        "R1 M1 X 2\nL1 X Y 1m\nE1 Y Z W GNDW 0.05\nVS Z M2 0\nF1 GNDW W VS 0.05\nC1 W GNDW 1u\nR2 W GNDW 1k",
    )
    yield "X1 X2 CASE G", "L1 X1 A 10m\nC1 A B 5f\nR1 B X2 20\nC2 X1 X2 4p\nC3 X1 CASE 1p\nR2 CASE G 1"
    yield "EX1 EX2 S1 S2", "R1 EX1 S1 350\nR2 S1 EX2 350\nR3 EX1 S2 350\nR4 S2 EX2 351"


def switches() -> Bodies:
    """Analogue switches of several throws, load switches, thyristors with a gate, samplers, flip-flops, timers."""
    for control in ("B1 X 0 V=u(V(IN,GND)-1.2)", "A1 IN GND 0 0 0 0 X 0 SCHMITT Vt=1.2 Vh=0.2"):
        for throws in (
            "S1 COM NO X 0 SX\nS2 COM NC X 0 SX",
            "B2 COM NO I=V(COM,NO)*V(X)\nB3 COM NC I=V(COM,NC)*(1-V(X))",
        ):
            yield "COM NO NC IN GND", f"{control}\n{throws}\nR1 IN GND 1meg"
            yield (
                "COM NO NC IN GND VDD",
                f"{control}\n{throws}\nR1 IN GND 1meg\nR2 VDD GND 50k\nD1 COM VDD DX\nD2 GND COM DX",
            )
        yield (
            "VIN VOUT IN GND",
            f"{control}\nE2 G VIN VALUE={{-5*V(X)}}\nM1 VOUT G VIN VIN PM\nR1 IN GND 1meg\nR2 VIN G 1meg",
        )
        yield (
            "D CLK Q GND VDD IN",
            f"{control}\nE2 Y GND VALUE={{V(X)*V(VDD,GND)}}\nR2 Y Q 50\nR3 D GND 1meg\nR4 CLK GND 1meg\nR5 VDD GND 1k",
        )
    for throws in ("B2 COM NO I=V(COM,NO)*V(X)\nB3 COM NC I=V(COM,NC)*(1-V(X))", "S1 COM NO X 0 SX\nS2 COM NC X 0 SX"):
        for ground in ("0", "GND"):
            control = f"B1 X 0 V=u(V(IN,{ground})-1.2)"
            for supply in ("R2 VDD GND 50k", "I1 VDD GND 1u", "R2 VDD GND 50k\nR1 IN GND 1meg"):
                yield "COM NO NC IN GND VDD", f"{control}\n{throws}\n{supply}"
    yield "H1 H2 S1 S2 VDD GND OUT", "R1 H1 H2 30\nR2 S1 S2 1k\nE1 OUT GND S1 S2 100\nR3 VDD GND 5k"
    yield "P M VP VM OUT REF", "R1 VP VM 10k\nR2 P M 2meg\nE1 X REF P M 10\nR3 X OUT 50\nR4 OUT REF 10k"
    yield "A G K K2", "Q1 1 G A QP\nQ2 G 1 K QN\nR1 G K 100\nR2 K K2 1m"
    yield (
        "MT2 G MT1 TAB",
        "Q1 1 2 MT2 QP\nQ2 2 1 MT1 QN\nQ3 3 4 MT1 QP\nQ4 4 3 MT2 QN\nR1 1 G 30\nR2 3 G 30\nR3 TAB MT2 1m",
    )
    yield "C G E TJ", "M1 B G E E NM\nQ1 E B C QP\nVS C CX 0\nB1 0 TJ I=I(VS)*V(C,E)\nR1 CX C 1\nRT TJ 0 1"


def further() -> Iterator[tuple[str, str]]:
    """Ports and body of each."""
    for family in (light_drivers, inputs_that_conduct, converters, levels, sensors, switches):
        yield from family()
