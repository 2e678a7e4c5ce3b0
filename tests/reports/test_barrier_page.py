"""The inventory of barriers as text, HTML and SVG: what is told, and that a stranger's names do nothing."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from xml.etree import ElementTree

from hypothesis import given, settings
from hypothesis import strategies as st

from isolint.amount_held import Held
from isolint.errors import Place
from isolint.reports import barrier_page, drawing
from isolint.reports.escape import is_harmful
from isolint.reports.pathdrawing import path_drawing
from isolint.reports.safety import CAUTION
from isolint.reports.svg import packed, shortened, wrapped
from isolint.results import BarrierSheet, Crossing, Hop, Inventory, Remark, SideRecord
from tests.reports.names import hostile

HERE = Place("board.cir", 3)
TIE = Remark("error", "ground-tie", "the references are joined by 0 ohm: GND - R9 0 ohm - GNDF")
OPEN = Remark("open", "part-unknown", "X9 touches both sides and is not understood")


def inventory(name: str = "XU1") -> Inventory:
    """One barrier with one crossing of each kind; `name` stands wherever a netlist may put a name of its own."""
    both = (("GND",), ("GNDF",))
    ratings = ("grade reinforced", "withstand 5 kV")
    path = ("path: GND - R9 0 ohm - GNDF",)
    hops = (Hop("net", "GND"), Hop("element", name, cut=True), Hop("net", name))
    crossings = (
        Crossing(
            "part", name, "phototransistor DEMO_PT1", ratings, (("A",), (name,)), HERE, weakest="weakest: CLR 0.80"
        ),
        Crossing("resistance", "R8", "10 Mohm", (), both, HERE),
        Crossing("capacitance", "C9", "1 nF", ("Y1, rated 400 V",), both, HERE),
        Crossing("joint", "R9", "ground-tie, 0 ohm", path, both, HERE, (TIE,), hops),
        Crossing("unknown", "X9", "nobody explained what it is", (name,), ((name,), ("GNDF",)), HERE, (OPEN,)),
    )
    sides = (
        SideRecord(name, "GND", ("V3V3", name), "selv", 12, 40),
        SideRecord("field", "", (), "", 1, 2),
    )
    held = (
        Held("creepage", "5.5 mm", "not known", None, name, "", "table F.5, from memory", "open"),
        Held("clearance", "5.5 mm", "4.4 mm", 0.8, f"{name} (DEMO_PT1)", "clearance", "table F.2", "short"),
        Held("touch current", "at most 0.5 mA", "0.1 mA", 5.0, "C9", "", "limit: stated", "holds"),
    )
    stated = (("insulation", "reinforced"), ("mains", "230 V"))
    sheet = BarrierSheet((name, "field"), stated, crossings, "", (TIE,), held, (f"assumed: altitude of {name}",))
    doubtful = BarrierSheet((name, "gone"), (), (), f"no net of side {name} is in this netlist")
    other = Crossing("joint", "L1", "ground-tie, 0 ohm", (), ((), ()), HERE, (TIE,))
    return Inventory(
        "0", name, sides, (sheet, doubtful), (other,), (Remark("warning", "side-unpowered", name),), ("n",)
    )


class BarrierPage(HTMLParser):
    """Tags and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


def test_text_tells_sides_what_is_stated_and_what_crosses() -> None:
    lines = barrier_page.render(inventory()).splitlines()
    assert lines[0] == "XU1: 2 sides, 2 barriers"
    assert lines[1] == "  side XU1: reference GND; supplies V3V3 XU1; kind selv; 40 elements, 12 nets"
    assert lines[2] == "  side field: no reference; no supply; kind not stated; 2 elements, 1 net"
    assert lines[4:13] == [
        "barrier XU1 | field",
        "  stated: insulation reinforced; mains 230 V",
        "  strength, weakest first:",
        "    amount         required        offered    margin  verdict  by                         row",
        "    creepage       5.5 mm          not known  -       open     XU1                        "
        "table F.5, from memory",
        "    clearance      5.5 mm          4.4 mm     0.80    short    XU1 (DEMO_PT1), clearance  table F.2",
        "    touch current  at most 0.5 mA  0.1 mA     5.00    holds    C9                         limit: stated",
        "    assumed: altitude of XU1",
        "  barrier parts: 1",
    ]
    assert lines[13:15] == ["    XU1: phototransistor DEMO_PT1 (A | XU1)", "      weakest: CLR 0.80"]
    assert "    R9: ground-tie, 0 ohm (GND | GNDF)" in lines
    assert "      path: GND - R9 0 ohm - GNDF" in lines
    assert "      error: the references are joined by 0 ohm: GND - R9 0 ohm - GNDF [ground-tie]" in lines
    assert "  can't be judged: no net of side XU1 is in this netlist" in lines
    assert "    L1: ground-tie, 0 ohm (- | -)" in lines
    assert lines[-1] == f"caution: {CAUTION}"


def test_kinds_without_a_crossing_are_said_to_be_none() -> None:
    text = barrier_page.render(inventory()).partition("barrier XU1 | gone")[2]
    assert [line.strip() for line in text.splitlines()[3:9]] == [
        "strength: no amount was compared",
        "barrier parts: none",
        "resistances: none",
        "capacitors: none",
        "joints: none",
        "unknown parts: none",
    ]


def test_a_page_holds_tables_drawings_and_the_caution_and_no_script() -> None:
    page = BarrierPage(barrier_page.render_html(inventory()))
    assert page.tags.count("svg") == 2
    assert page.tags.count("table") == 4
    assert not {"script", "iframe", "img", "link", "object"} & set(page.tags)
    assert CAUTION in page.text
    for told in (
        "table F.2",
        "4.4 mm",
        "0.80",
        "assumed: altitude of XU1",
        "weakest: CLR 0.80",
        "C9",
        "Y1, rated 400 V",
        "path: GND - R9 0 ohm - GNDF",
        "side-unpowered",
    ):
        assert told in page.text


def svg_texts(text: str) -> list[str]:
    root = ElementTree.fromstring(text.partition("\n")[2])
    return [element.text or "" for element in root.iter("{http://www.w3.org/2000/svg}text")]


def test_a_drawing_keeps_its_text_as_text_and_marks_what_fails() -> None:
    drawn = drawing.render(inventory())
    texts = svg_texts(drawn)
    assert {"JOINT", "ERROR GROUND-TIE", "UNKNOWN", "OPEN PART-UNKNOWN", "R9 ground-tie, 0 ohm"} <= set(texts)
    assert " ".join(texts).find("it certifies nothing") > 0
    assert "WEAKEST: CLR 0.80" in texts
    told = "clearance: 5.5 mm required, 4.4 mm offered by XU1 (DEMO_PT1) (margin 0.80), short; table F.2"
    assert told in texts
    # Thick, dashed and inverted, so that nothing hangs on a colour.
    assert 'stroke-width="4"' in drawn
    assert 'stroke-dasharray="7 4"' in drawn


def test_a_drawing_needs_nothing_from_elsewhere() -> None:
    drawn = drawing.render(inventory())
    assert re.findall(r"(?:href|src|url\()", drawn) == []
    assert drawn.count("http") == 1, "the name space of SVG"


def test_boxes_do_not_overlap_and_stay_inside() -> None:
    root = ElementTree.fromstring(drawing.panel(inventory().barriers[0], None, None).document())
    space = "{http://www.w3.org/2000/svg}"
    height = float(root.attrib["height"])
    boxes = [r for r in root.iter(f"{space}rect") if r.attrib.get("rx") is not None]
    spans = [(float(box.attrib["y"]), float(box.attrib["y"]) + float(box.attrib["height"])) for box in boxes]
    assert len(spans) == 5
    assert all(below[0] > above[1] for above, below in pairwise(spans))
    assert all(float(text.attrib["y"]) <= height for text in root.iter(f"{space}text"))


PATH = (
    Hop("net", "GND"),
    Hop("element", "R7 100 ohm"),
    Hop("net", "/A"),
    Hop("element", "R9 0 ohm", cut=True),
    Hop("net", "GNDF"),
)
SPACE = "{http://www.w3.org/2000/svg}"


def drawn_path(hops: tuple[Hop, ...], fails: bool = True) -> ElementTree.Element:
    elements, height = path_drawing(hops, 0, 44, 956, fails)
    root = ElementTree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{"".join(elements)}</svg>')
    root.set("height", str(height))
    return root


def test_a_path_is_drawn_red_from_net_to_net_with_the_element_to_cut_on_the_barrier() -> None:
    root = drawn_path(PATH)
    assert [element.text for element in root.iter(f"{SPACE}text")] == [hop.text for hop in PATH]
    (title,) = root.iter(f"{SPACE}title")
    assert title.text == "GND - R7 100 ohm - /A - R9 0 ohm - GNDF"
    (line,) = root.iter(f"{SPACE}line")
    dots = [float(dot.attrib["cx"]) for dot in root.iter(f"{SPACE}circle")]
    assert (line.attrib["stroke"], float(line.attrib["stroke-width"])) == ("#b00018", 3.5)
    assert (float(line.attrib["x1"]), float(line.attrib["x2"])) == (dots[0], dots[-1])
    bold = next(text for text in root.iter(f"{SPACE}text") if text.attrib.get("font-weight"))
    assert (bold.text, float(bold.attrib["x"])) == ("R9 0 ohm", 500.0)


def test_a_path_that_is_not_proven_is_drawn_broken_and_black() -> None:
    (line,) = drawn_path(PATH, fails=False).iter(f"{SPACE}line")
    assert (line.attrib["stroke"], line.attrib["stroke-dasharray"]) == ("#000", "7 4")


def test_a_long_path_goes_on_in_the_next_row_and_stays_inside() -> None:
    hops = tuple(
        hop
        for number in range(40)
        for hop in (Hop("net", f"/SHEET/NET_{number}_" + "X" * number), Hop("element", f"R{number} 1 kohm"))
    )
    root = drawn_path((*hops, Hop("net", "GNDF")))
    assert len(list(root.iter(f"{SPACE}text"))) == 81
    rows = {float(line.attrib["y1"]) for line in root.iter(f"{SPACE}line")}
    assert len(rows) == len(list(root.iter(f"{SPACE}polyline"))) + 1 > 5
    for rect in root.iter(f"{SPACE}rect"):
        assert float(rect.attrib["x"]) > 20
        assert float(rect.attrib["x"]) + float(rect.attrib["width"]) < 980
        assert float(rect.attrib["y"]) + float(rect.attrib["height"]) < float(root.attrib["height"])


def test_a_joint_with_a_path_is_drawn_and_one_at_no_barrier_is_told_with_its_result() -> None:
    shown = inventory()
    joints = [each._replace(path=PATH) if each.name == "R9" else each for each in shown.barriers[0].crossings]
    texts = svg_texts(drawing.render(shown._replace(barriers=(shown.barriers[0]._replace(crossings=tuple(joints)),))))
    assert {"R7 100 ohm", "/A", "R9 0 ohm"} <= set(texts)
    assert not any(text.startswith("path: ") for text in texts)
    assert "at no barrier shown: L1: ground-tie, 0 ohm; error: the references are joined by 0 ohm" in " ".join(texts)


@given(hostile)
@settings(max_examples=60)
def test_a_stranger_s_name_stays_a_name_in_html(name: str) -> None:
    plain, page = (
        BarrierPage(barrier_page.render_html(inventory())),
        BarrierPage(barrier_page.render_html(inventory(name))),
    )
    inside = [tag for tag in page.tags if tag not in ("text", "line", "rect", "polyline")]
    assert inside == [tag for tag in plain.tags if tag not in ("text", "line", "rect", "polyline")]
    assert not any(name.startswith("on") for name in page.attributes)


@given(hostile)
@settings(max_examples=60)
def test_a_stranger_s_name_stays_a_name_in_a_drawing(name: str) -> None:
    root = ElementTree.fromstring(drawing.render(inventory(name)).partition("\n")[2])
    tags = {element.tag.partition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "g", "rect", "line", "text", "title", "circle", "polyline"}


@given(hostile)
@settings(max_examples=60)
def test_a_stranger_s_name_breaks_no_line_of_text(name: str) -> None:
    lines = barrier_page.render(inventory(name)).split("\n")
    assert len(lines) == len(barrier_page.render(inventory()).split("\n"))
    assert not any(is_harmful(character) for line in lines for character in line)


@given(st.text(alphabet="ab ", max_size=60), st.integers(5, 20))
def test_wrapping_loses_no_word_and_keeps_to_the_width(text: str, most: int) -> None:
    lines = wrapped(text, most)
    assert all(len(line) <= most for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_short_items_share_a_line_and_long_ones_are_cut() -> None:
    assert packed(["one", "two", "three"], 8) == ["one; two", "three"]
    assert shortened("abcdefgh", 6) == "abc..."


def test_a_netlist_without_barrier_says_so() -> None:
    empty = Inventory("0", "board.cir", (), (), (), (), ())
    assert "board.cir: 0 sides, 0 barriers" in barrier_page.render(empty)
    assert "There is no barrier in this netlist." in svg_texts(drawing.render(empty))
    assert CAUTION in barrier_page.render(empty)
