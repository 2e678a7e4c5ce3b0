"""Definitions that look like couplers and are none: amplifiers, comparators, drivers, packages, as people model them.

Each family multiplies ways of writing its parts with each other; all are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from tests.recognition.more_lookalikes import further

MODELS = (
    ".model DX D(IS=1e-14)\n.model DZ D(BV=6)\n.model DL D(IS=1e-16 N=2 RS=2)\n.model DS D(IS=1e-8 N=1.05)\n"
    ".model QN NPN(BF=200)\n.model QP PNP(BF=100)\n.model NM NMOS(VTO=1 KP=1m)\n.model PM PMOS(VTO=-1 KP=1m)\n"
    ".model JN NJF(BETA=1m)\n.model SX SW(VT=1 RON=1 ROFF=1G)\n.model WX CSW(IT=1m RON=1 ROFF=1G)\n"
)

INPUTS = {
    "resistor": "RIN P M 1meg\nCIN P M 2p",
    "clamped both ways": "D1 P M DX\nD2 M P DX\nRIN P M 1meg",
    "clamped in series": "R1 P P1 500\nR2 M M1 500\nD1 P1 M1 DX\nD2 M1 P1 DX",
    "one silicon diode": "D1 M P DX\nRIN P M 2meg",
    "zener pair": "D1 P X1 DZ\nD2 M X1 DZ",
    "clamped to the rails": "D1 P VP DX\nD2 VM P DX\nD3 M VP DX\nD4 VM M DX",
    "bias currents": "IB1 P 0 10n\nIB2 M 0 11n\nRIN P M 10meg\nCP P 0 1p",
    "bipolar pair": "Q1 C1 P E QN\nQ2 C2 M E QN\nIE E VM 10u\nRC1 VP C1 10k\nRC2 VP C2 10k",
    "jfet pair": "J1 C1 P E JN\nJ2 C2 M E JN\nIE VP E 10u\nRC1 C1 VM 10k\nRC2 C2 VM 10k",
}  # fmt: skip
GAINS = {
    "to node 0": "GA 0 X P M 1m\nRX X 0 1meg\nCX X 0 10p",
    "voltage": "EA Y 0 P M 1e5\nRY Y X 1k\nCX X 0 1n",
    "polynomial": "EA X 0 POLY(2) P M VP VM 0 1e4 1e-3\nRX X 0 1k",
    "limited": "BA X 0 V=limit(1e5*V(P,M),V(VM)+1,V(VP)-1)\nRX X 0 1k",
    "two poles": "GA 0 W P M 1m\nRW W 0 1k\nCW W 0 1n\nEB Z 0 W 0 100\nRZ Z X 1k\nCX X 0 1p",
}  # fmt: skip
OUTPUTS = {
    "resistor": "EO O1 0 X 0 1\nRO O1 OUT 50",
    "follower": "EO O1 0 X 0 1\nQO1 VP O1 OUT QN\nQO2 VM O1 OUT QP",
    "clamped": "GO 0 OUT X 0 10m\nRO OUT 0 100\nDC1 OUT VP1 DX\nVC1 VP VP1 1\nDC2 VM1 OUT DX\nVC2 VM1 VM 1",
    "between the rails": "EO O1 VM VALUE={V(X)-V(VM)}\nRO O1 OUT 20",
    "current limit": "EO O1 0 X 0 1\nVS O1 O2 0\nRO O2 OUT 10\nFL 0 X VS 0.1",
}  # fmt: skip
SUPPLIES = {
    "none": "RS VP VM 20k",
    "current source": "IS VP VM 1m",
    "output current": "VO OUT OX 0\nROX OX 0 1e12\nFP VP VM VO 1\nDP VM VP DX\nRS VP VM 50k",
    "watched": "BP VP VM I=1m+abs(V(X))*1u",
}  # fmt: skip


def _definition(number: int, ports: str, body: str) -> tuple[str, str]:
    name = f"DEMO_LK{number:03d}"
    return name, f".subckt {name} {ports}\n{body.strip()}\n{MODELS}.ends\n"


def amplifiers() -> Iterator[tuple[str, str]]:
    """Operational amplifiers, every third combination of their parts."""
    every = product(INPUTS.values(), GAINS.values(), OUTPUTS.values(), SUPPLIES.values())
    for number, parts in enumerate(every):
        if number % 3 == 0:
            yield "P M VP VM OUT", "\n".join(parts)


def comparators() -> Iterator[tuple[str, str]]:
    """Comparators: open collector with a ground of its own, strobes, hysteresis."""
    inputs = ("RIN P M 1meg", INPUTS["clamped both ways"], INPUTS["clamped in series"], INPUTS["one silicon diode"])
    outputs = (
        "E1 X GND VALUE={if(V(M,P)>0,0.8,0)}\nR1 X B 1k\nQ1 OUT B GND QN",
        "G1 0 B M P 1m\nR1 B GND 10k\nQ1 OUT B GND QN\nR9 VP GND 20k",
        "B1 X 0 V=u(V(M,P))\nR1 X Y 1k\nC1 Y 0 1n\nS1 OUT GND Y 0 SX",
        "B1 X 0 V=u(V(P,M)+0.01*V(OUT,GND))\nEO Y GND VALUE={V(VP,GND)*V(X)}\nRO Y OUT 100",
        "A1 P M 0 0 0 0 X 0 SCHMITT Vt=0 Vh=1m\nM1 OUT X GND GND NM",
    )
    for one, other in product(inputs, outputs):
        yield "P M VP VM OUT GND", f"{one}\n{other}\nRS VP VM 30k"
    yield "P M OUT GND", "RIN P M 1meg\nE1 X GND VALUE={if(V(M,P)>0,0.8,0)}\nR1 X B 1k\nQ1 OUT B GND QN"
    yield "P M OUT GND", "D1 P M DX\nD2 M P DX\nG1 GND B P M 1m\nRB B GND 1k\nQ1 OUT B GND QN"


def drivers() -> Iterator[tuple[str, str]]:
    """Half-bridge drivers, level shifters, LED drivers, current regulators."""
    high = "EH GH HS VALUE={if(V(X)>0.5,V(HB,HS),0)}\nRH GH HO 2\nRB HB HS 100k"
    low = "EL GL GND VALUE={if(V(Y)>0.5,V(VDD,GND),0)}\nRL GL LO 2"
    for shape in ("B1 X 0 V=u(V(HI,GND)-1.5)\nB2 Y 0 V=u(V(LI,GND)-1.5)",
                  "E1 X1 0 HI GND 0.3\nR1 X1 X 1k\nC1 X 0 1p\nE2 Y1 0 LI GND 0.3\nR2 Y1 Y 1k\nC2 Y 0 1p"):  # fmt: skip
        for pulls in ("RHI HI GND 100k\nRLI LI GND 100k", "DHI GND HI DX\nDLI GND LI DX", ""):
            yield "HI LI VDD GND HB HO HS LO", f"{shape}\n{high}\n{low}\n{pulls}\nDBS VDD HB DX"
            yield "HI LI VDD GND HB HO HS LO", f"{shape}\n{high}\n{low}\n{pulls}\nRV VDD GND 20k"
    for sense in ("R1 K CS 0.1\nE1 X 0 K CS 10", "V1 K CS 0\nH1 X 0 V1 1"):
        for out in ("G1 VIN SW X 0 1m", "S1 VIN SW X 0 SX", "M1 VIN X SW SW NM", "Q1 VIN X SW QN"):
            yield "VIN GND SW K CS", f"{sense}\n{out}\nD1 GND SW DS\nR2 VIN GND 100k"
    for ref in ("V1 X GND 1.25", "D1 X GND DZ"):
        yield "VIN VOUT ADJ GND", f"{ref}\nR1 VIN X 10k\nQ1 VIN B VOUT QN\nE1 B GND X ADJ 1000\nRA ADJ GND 1meg"
        yield "LEDP LEDN VIN GND", f"{ref}\nR1 VIN X 10k\nQ1 LEDN B S QN\nRS S GND 1\nE1 B GND X S 1e3\nD9 LEDP LEDN DL"
    for leds in ("D1 A K DL", "D1 A X DL\nD2 X K DL", "D1 A X DL\nR1 X K 5"):
        yield "A K B C", f"{leds}\nR2 B C 10k"
        yield "A K A2 K2", f"{leds}\nD8 A2 K2 DL"
        yield "A K LUM", f"{leds}\nV0 K0 0 0\nB1 LUM 0 V=V(A,K)*20\nRL LUM 0 1"
        yield "A K TJ TC", f"{leds}\nVM A AM 0\nB1 0 TJ I=V(A,K)*1m\nRT TJ TC 20\nCT TJ 0 1m"


def packages() -> Iterator[tuple[str, str]]:
    """Several parts in one package."""
    yield "1 2 3 4", "D1 1 2 DX\nD2 3 4 DX"
    yield "1 2 3 4", "D1 1 2 DL\nD2 3 4 DL"
    yield "A1 K1 A2 K2", "D1 A1 K1 DL\nD2 A2 K2 DX\nC1 A1 A2 1p"
    yield "1 2 3 4 5 6", "Q1 1 2 3 QN\nQ2 4 5 6 QN"
    yield "1 2 3 4 5 6", "Q1 1 2 3 QN\nQ2 4 5 6 QP"
    yield "1 2 3 4 5 6", "M1 1 2 3 3 NM\nM2 4 5 6 6 NM\nD1 3 1 DX\nD2 6 4 DX"
    yield "1 2 3 4 5 6", "M1 1 2 3 3 NM\nM2 4 5 6 6 PM\nD1 3 1 DX\nD2 4 6 DX"
    yield "A K C B E", "D1 A K DX\nQ1 C B E QN"
    yield "A K D G S", "D1 A K DS\nM1 D G S S NM\nD2 S D DX"
    yield "A K CATH REF", "D1 A K DL\nD2 CATH REF DZ"
    yield "1 2 3 4 5 6 7 8", "\n".join(f"R{n} {n} {n + 4} 10k" for n in range(1, 5))
    yield "1 2 3 4", "D1 1 3 DX\nD2 2 3 DX\nD3 4 1 DX\nD4 4 2 DX"
    yield "A1 A2 A3 COM", "D1 A1 COM DL\nD2 A2 COM DL\nD3 A3 COM DL"
    yield "AR KR AG KG AB KB", "D1 AR KR DL\nD2 AG KG DL\nD3 AB KB DL"
    yield "1 2 3 4", "X1 1 2 3 DEMO_MISSING\nD1 3 4 DX"
    yield "1 2 3 4", "C1 1 2 1u\nC2 3 4 1u"
    yield "1 2 3 4", "L1 1 2 1u\nL2 3 4 2u"
    for gate in ("if(V({a})>2&V({b})>2,0,5)", "5-min(V({a}),V({b}))", "u(V({a})-2)*5"):
        text = []
        for k in range(4):
            law = gate.format(a=f"A{k}", b=f"B{k}")
            text.append(f"B{k} X{k} GND V={law}\nR{k} X{k} Y{k} 50\nRA{k} A{k} GND 1meg\nRB{k} B{k} GND 1meg")
        ports = " ".join(f"A{k} B{k} Y{k}" for k in range(4))
        yield f"{ports} VCC GND", "\n".join(text) + "\nRV VCC GND 1meg"
        yield f"{ports} VCC GND", "\n".join(text).replace("GND", "0") + "\nRV VCC GND 1meg"
    for inner in list(INPUTS.values())[:5]:
        both = []
        for n in "12":
            amp = f"{inner}\nEA X 0 P M 1e5\nRO X OUT 50"
            for word in ("P1", "M1", "X1"):
                amp = amp.replace(word, f"{word}Q")
            lines = [" ".join([f"{w.split()[0]}A{n}", *w.split()[1:]]) for w in amp.splitlines()]
            named = []
            for line in lines:
                head, *words = line.split()
                named.append(" ".join([head, *(w if w in ("VP", "VM", "0") or w[0].isdigit() or w.startswith("D")
                                               else w + n for w in words)]))  # fmt: skip
            both.append("\n".join(named))
        yield "P1 M1 OUT1 P2 M2 OUT2 VP VM", "\n".join(both) + "\nRS VP VM 10k"


def switches() -> Iterator[tuple[str, str]]:
    """Analogue switches, multiplexers, multipliers, oscillators, thermal and sensor models."""
    for control in ("B1 X 0 V=u(V(CTL,GND)-1.5)", "E1 X 0 CTL GND 0.5", "R1 CTL X 1k\nC1 X 0 1p"):
        paths = ("S1 A B X 0 SX", "M1 A X B GND NM", "B2 A B I=V(A,B)*if(V(X)>0.5,0.01,1n)")
        for path in (*paths, "G2 A B VALUE={V(A,B)*V(X)*1m}"):
            yield "A B CTL GND", f"{control}\n{path}\nRI CTL GND 1meg"
            yield "A B CTL GND VDD", f"{control}\n{path}\nRI CTL GND 1meg\nD1 CTL VDD DX\nD2 GND CTL DX"
    for law in ("V(X1,X2)*V(Y1,Y2)/10", "limit(V(X1,X2)*V(Y1,Y2),-10,10)", "V(X1,X2)/max(V(Y1,Y2),0.1)"):
        yield "X1 X2 Y1 Y2 W Z", f"R1 X1 X2 1meg\nR2 Y1 Y2 1meg\nB1 P Z V={law}\nR3 P W 10"
        yield "X1 X2 Y1 Y2 W Z", f"D1 X1 X2 DX\nD2 X2 X1 DX\nR2 Y1 Y2 1meg\nB1 P Z V={law}\nR3 P W 10"
    for law in ("I(V1)*V(D,S)", "V(D,S)*I(V1)+V(G,S)*1u"):
        yield "D G S TJ TC", f"V1 D D1 0\nM1 D1 G S S NM\nB1 0 TJ I={law}\nRT TJ TC 1\nCT TC 0 1m"
        yield "D G S TJ TC", f"V1 D D1 0\nM1 D1 G S S NM\nD2 S D DX\nG1 0 TJ VALUE={{{law}}}\nRT TJ TC 0.5"
    for diode in ("DX", "DS", "DL"):
        yield "A K TJ TC", f"V1 A A1 0\nD1 A1 K {diode}\nB1 0 TJ I=I(V1)*V(A,K)\nRT TJ TC 10\nCT TJ 0 1m"
        yield "A K TJ TC", f"V1 A A1 0\nD1 A1 K {diode}\nG1 TC TJ VALUE={{I(V1)*V(A,K)}}\nRT TJ TC 10\nCT TJ TC 1m"
    yield (
        "VCC GND OUT DIS THR TRG",
        (
            "R1 VCC X 5k\nR2 X Y 5k\nR3 Y GND 5k\nB1 S GND V=if(V(TRG)<V(Y),5,if(V(THR)>V(X),0,2))\nR4 S OUT 10\n"
            "Q1 DIS B GND QN\nE1 B GND VALUE={5-V(S)}"
        ),
    )
    yield "P M T1 T2", "V1 P X 0\nR1 X Y 1\nL1 Y Z 1m\nE1 Z M T1 T2 0.1\nG1 T1 T2 VALUE={0.1*I(V1)}\nR2 T1 T2 1k"
    yield "1 2 3 4", "T1 1 2 3 4 Z0=50 TD=1n"
    yield "1 2 3 4 5 6", "L1 1 2 10n\nL2 3 4 10n\nL3 5 6 10n\nK1 L1 L2 0.2\nK2 L2 L3 0.2\nC1 1 3 1p"
    yield "X1 X2 X3 X4", "L1 X1 A 1m\nC1 A B 1f\nR1 B X2 20\nC2 X3 X4 5p\nRL X3 X4 1k"
    yield "P N SOC T", "V1 P X 0\nR1 X Y 10m\nE1 Y N VALUE={3.2+V(SOC)}\nB1 0 SOC I=-I(V1)/3600\nC1 SOC 0 1\nRT T 0 1k"
    yield "IRR REF P N", "G1 N P VALUE={V(IRR,REF)*5}\nD1 P N DX n=20\nR1 IRR REF 1meg"
    yield (
        "VCC GND OUT1 OUT2 IP IM",
        "R1 IP IM 1m\nE1 X GND VALUE={2.5+100*V(IP,IM)}\nR2 X OUT1 10\nR3 OUT2 GND 1k\nR4 VCC GND 1k",
    )


def mirrors() -> Iterator[tuple[str, str]]:
    """Current mirrors and conveyors."""
    yield "I1 I2 O1 O2", "Q1 I1 I1 I2 QN\nQ2 O1 I1 O2 QN"
    yield "IN OUT VP VM", "Q1 IN IN VM QN\nQ2 OUT IN VM QN\nR1 VP VM 1meg"
    yield "X Y Z G", "V1 X1 X 0\nE1 X1 0 Y G 1\nF1 Z G V1 1\nRY Y G 10meg"
    yield "A B C D", "V1 A B 0\nF1 C D V1 1\nR1 C D 1meg"
    yield "A B C D", "R1 A B 10\nG1 C D A B 0.1"
    yield "A B C D", "R1 A B 10\nE1 C D A B 5"
    yield "P M O R", "R1 P M 1meg\nG1 R O P M 1m\nR2 O R 100k"
    yield "P M O R V", "D1 P M DX\nD2 M P DX\nV1 P P2 0\nR1 P2 M 100\nF1 R O V1 1\nR2 O R 100k\nR3 V R 1k"


def all_lookalikes() -> list[tuple[str, str]]:
    """(name, text) of every look-alike."""
    families = (amplifiers, comparators, drivers, packages, switches, mirrors, further)
    every = [found for family in families for found in family()]
    return [_definition(number, ports, body) for number, (ports, body) in enumerate(every)]
