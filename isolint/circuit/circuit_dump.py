"""A circuit as text, one thing a line, for tests and for looking at."""

from __future__ import annotations

from isolint.circuit.circuit import Circuit


def dump(circuit: Circuit) -> str:
    """All sheets and elements with the names of their nets: `(R Xch1.R1 IN A 1000 @board.cir:3)`."""
    lines = [_line(circuit, element, "sheet") for element in circuit.sheets()]
    lines += [_line(circuit, element, circuit.letter(element)) for element in circuit.elements()]
    lines += [f"[{note.level} {note.kind} {note.subject} @{note.place}] {note.message}" for note in circuit.notes]
    lines.append(f"{len(lines) - len(circuit.notes)} elements, {sum(1 for _ in circuit.nets())} nets")
    return "\n".join(lines)


def _line(circuit: Circuit, element: int, what: str) -> str:
    words = [what, circuit.path(element), *map(circuit.net_name, circuit.pins(element))]
    controls = circuit.control_names(element)
    if controls:
        words.append(f"<{' '.join(controls)}>")
    name = circuit.model_name(element)
    if name is not None:
        words.append(f"={name}")
    value, text, moving = circuit.value(element), circuit.value_text(element), circuit.stimulus(element)
    if value is not None:
        words.append(f"{value:.6g}")
    elif text:
        words.append(f"{{{text}}}")
    if moving is not None:
        words.append(f"{moving[0]}({' '.join(f'{number:.6g}' for number in moving[1])})")
    tail = circuit.tail(element).items()
    words += [f"{key}={number if isinstance(number, str) else format(number, '.6g')}" for key, number in tail]
    place = circuit.place(element)
    return f"({' '.join(words)} @{place.file}:{place.line})"
