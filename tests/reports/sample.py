"""Hand-made reports for the tests of the formats; circuits and numbers are invented."""

from __future__ import annotations

from isolint.errors import Place
from isolint.results import (
    Assumption,
    BarrierRecord,
    CouplerRecord,
    Coverage,
    Evidence,
    Limit,
    Margin,
    Measure,
    MissingFact,
    NetlistReport,
    Related,
    Report,
    Result,
    RuleRecord,
    SideRecord,
    Suppression,
)

RULES = (
    RuleRecord("ground-tie", "barrier", "error", "the references of two sides are joined", "What it looks at\n..."),
    RuleRecord("led-unlimited", "drive", "error", "nothing limits the LED's current", "What it looks at\n..."),
    RuleRecord("led-underdriven", "drive", "error", "the LED gets too little current", "What it looks at\n..."),
    RuleRecord("slow-edge", "time", "warning", "an edge is too slow", "What it looks at\n..."),
)

UNDERDRIVEN = Result(
    netlist="board.cir",
    rule="led-underdriven",
    kind="fail",
    level="error",
    message="XU1: the LED gets 0.82 mA at worst (V3V3 -5 %, -20 degC) and needs 1 mA",
    where=Place("board.cir", 12, 1),
    subject="XU1",
    part="DEMO_PT1",
    instance="XU1",
    channel="1",
    related=(Related(Place("board.cir", 3, 1), "XU1, the coupler"),),
    evidence=(
        Evidence(
            name="LED current",
            symbol="IF",
            unit="A",
            min=0.00082,
            nominal=0.0011,
            max=0.0015,
            limit=Limit("at_least", 0.001),
            corners={"min": "V3V3 -5 %, -20 degC", "max": "V3V3 +5 %, 60 degC"},
            formula="IF = (V3V3 - VF) / R4 = (3.135 V - 1.3 V) / 2.23 kohm = 0.82 mA",
            source="DEMO_PT1",
        ),
    ),
    assumptions=(Assumption("tolerance of V3V3", "5", "%", "class default", 0.02),),
    margin=Margin(0.82, 1.0),
    measure=Measure(0.82, larger_is_worse=False),
    remedy="R4 (board.cir:12): 1.8 kohm or less",
)

OPEN = Result(
    netlist="board.cir",
    rule="led-unlimited",
    kind="open",
    level="none",
    message="XU2: the supply of net DRIVE is not known",
    where=Place("board.cir", 20, 1),
    subject="XU2",
    missing=(MissingFact("isolint.toml", 'outputs."DRIVE".supply', '[outputs."DRIVE"]\nsupply = "V3V3"'),),
    counts_as="note",
)

PASS = Result(
    netlist="board.cir",
    rule="led-unlimited",
    kind="pass",
    level="none",
    message="XU1: R4 limits the LED's current",
    where=Place("board.cir", 3, 1),
    subject="XU1",
    evidence=(Evidence("LED current", "IF", "A", max=0.0015, limit=Limit("at_most", 0.5), formula="a = b"),),
)

WAIVED = Result(
    netlist="board.cir",
    rule="ground-tie",
    kind="fail",
    level="error",
    message="GND and GND_FIELD are joined",
    where=Place("board.cir", 30, 1),
    subject="R9",
    suppression=Suppression("external", "accepted", "bench fixture only", "hardware lead", "2027-06-30"),
)

BLOCKED = Result(
    netlist="board.cir",
    rule="led-underdriven",
    kind="notApplicable",
    level="none",
    message="",
    where=Place("board.cir", 20, 1),
    subject="XU2",
    blocked_by="led-unlimited",
)

UNREASONED = BLOCKED._replace(blocked_by="", subject="XU3")

BOARD = NetlistReport(
    netlist="board.cir",
    results=(PASS, UNDERDRIVEN, OPEN, BLOCKED, UNREASONED, WAIVED),
    coverage=Coverage(
        cards=100,
        understood=97,
        reasons={"encrypted model": 3},
        channels=2,
        measured=1,
        held=1,
        failed=1,
        parts=5,
        explained=4,
    ),
    files=("board.cir", "isolint.toml"),
    sides=(
        SideRecord("field", "GND_FIELD", ("V24_FIELD",), "selv", 8, 12),
        SideRecord("logic", "GND", ("V3V3",), "", 10, 20),
    ),
    barriers=(BarrierRecord(("field", "logic"), {"insulation": "basic"}, ("XU1", "XU2"), (), False),),
    couplers=(
        CouplerRecord(
            part="XU1",
            type="phototransistor",
            channel="1",
            model="DEMO_PT1",
            recognised_by="record",
            drive=("R4",),
            load=("R5",),
            sides=("logic", "field"),
            place=Place("board.cir", 3, 1),
        ),
        CouplerRecord(
            part="XU2",
            type="phototransistor",
            channel="",
            model="",
            recognised_by="declaration",
            drive=(),
            load=(),
            sides=("logic", "field"),
            place=Place("board.cir", 20, 1),
        ),
    ),
    notes=("simulation only, left out: VCM1",),
)

REPORT = Report(version="0.1.0", netlists=(BOARD,), rules=RULES)


def of(*results: Result, **changes: object) -> Report:
    """A report that holds these results of board.cir only."""
    board = BOARD._replace(
        results=results, barriers=(), notes=(), coverage=Coverage(10, 10, {}, 2, 2, held=2, parts=2, explained=2)
    )
    return REPORT._replace(netlists=(board._replace(**changes),))  # type: ignore[arg-type]


def hostile(name: str) -> Report:
    """A report in which a stranger chose every name: nets, parts, files, reasons, the netlist's own."""
    failure = UNDERDRIVEN._replace(
        netlist=name,
        message=f"{name}: the LED gets too little",
        where=Place(name, 12, 1),
        subject=name,
        role=name,
        related=(Related(Place(name, 3, 1), name),),
        remedy=f"change {name}",
        evidence=(UNDERDRIVEN.evidence[0]._replace(name=name, formula=f"{name} = {name}", source=name),),
        missing=(MissingFact(name, name, f"[x]\n{name}"),),
    )
    waived = failure._replace(
        rule="ground-tie", suppression=Suppression("external", "accepted", name, name, "2027-06-30")
    )
    open_one = OPEN._replace(netlist=name, message=name, where=Place(name, 1, 1), subject=name, counts_as="error")
    known = failure._replace(subject=name + "2", baseline_state="unchanged")
    results = (failure, open_one, waived, known, PASS._replace(netlist=name, message=name, subject=name))
    board = BOARD._replace(netlist=name, results=results, notes=(name,), files=(name,))
    return REPORT._replace(netlists=(board,), errors=(name,))
