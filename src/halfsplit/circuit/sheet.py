"""A sheet as text, read into its keys; every item keeps its line and column, so that any later complaint names the place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import yaml

from halfsplit.circuit.model import Unit
from halfsplit.circuit.sheet_lines import look_over
from halfsplit.errors import InputError, SheetError
from halfsplit.units import Quantity, is_quantity, parse_quantity, plain_signs

KEYS = ("unit", "symptom", "start", "parts", "ways", "does", "cold", "twin", "cant")
_LISTS = ("parts", "ways")
_COMMAS = ("cold", "cant")


@dataclass(frozen=True)
class Item:
    """Some words of a sheet and where they stand; line and column count from 1."""

    text: str
    line: int
    column: int
    name: str = "sheet"

    def fault(self, text: str, offset: int = 0) -> SheetError:
        """The error to raise about these words, or about what stands offset characters into them."""
        return SheetError(text, line=self.line, column=self.column + offset, name=self.name)


@dataclass(frozen=True)
class SheetText:
    """A sheet, key by key. parts: one item an entry. ways: one item a line. does: (control, what it drives)."""

    unit: Unit
    unit_item: Item
    symptom: tuple[Item, ...] = ()
    start: Item | None = None
    parts: tuple[Item, ...] = ()
    ways: tuple[Item, ...] = ()
    does: tuple[tuple[Item, Item], ...] = ()
    cold: tuple[Item, ...] = ()
    twin: Item | None = None
    cant: tuple[Item, ...] = ()
    name: str = "sheet"


def read_sheet_bytes(data: bytes, name: str = "sheet") -> SheetText:
    """As read_sheet, from a file's bytes. Raises SheetError at the first byte that is not UTF-8."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise SheetError("the file is UTF-16; save it as UTF-8", line=1, column=1, name=name)
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as bad:
        before = data[: bad.start]
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8")) + 1
        raise SheetError(
            f"byte {data[bad.start]:#04x} is not UTF-8 text; save the sheet as UTF-8",
            line=before.count(b"\n") + 1,
            column=column,
            name=name,
        ) from None
    return read_sheet(text, name)


def read_sheet(text: str, name: str = "sheet") -> SheetText:
    """The sheet in text.

    Returns: SheetText with positions. Raises: SheetError at line and column, with what to do.
    """
    text = plain_signs(text.replace("\r\n", "\n"))  # one character for one, so columns stay true
    look_over(text.split("\n"), name)
    found = _keys(_composed(text, name), name)
    if "unit" not in found:
        raise SheetError(
            "unit is missing; write it like `unit: label printer, 230V 50Hz, class II, 40W`", line=1, column=1, name=name
        )
    unit_item = _one(found["unit"], name)
    return SheetText(
        unit=read_unit(unit_item),
        unit_item=unit_item,
        name=name,
        symptom=_split(found.get("symptom"), ";", name),
        start=_one(found["start"], name) if "start" in found else None,
        parts=tuple(piece for item in _list(found.get("parts"), name) for piece in _pieces(item, ";")),
        ways=_list(found.get("ways"), name),
        does=_pairs(found.get("does"), name),
        cold=_split(found.get("cold"), ",", name),
        twin=_one(found["twin"], name) if "twin" in found else None,
        cant=_split(found.get("cant"), ",", name),
    )


def compose_sheet(entries: Iterable[tuple[str, str]]) -> str:
    """Sheet text from single lines (key, words), in the order in which they came; a later single-line key replaces an earlier."""
    single: dict[str, str] = {}
    several: dict[str, list[str]] = {}
    for key, words in entries:
        if key not in KEYS:
            raise InputError(f"{key!r} is no key of a sheet; known: {', '.join(KEYS)}")
        if key in _LISTS or key == "does":
            several.setdefault(key, []).append(words.strip())
        elif key in _COMMAS and single.get(key):
            single[key] += f", {words.strip()}"
        else:
            single[key] = words.strip()
    out = [f"{key}: {words}".rstrip() for key, words in single.items()]
    for key, lines in several.items():
        out.append(f"{key}:")
        out += [f"  {line}" if key == "does" else f"- {line}" for line in lines]
    return "\n".join(out) + "\n"


def _composed(text: str, name: str) -> yaml.Node:
    try:
        node: yaml.Node | None = yaml.compose(text, yaml.CBaseLoader)
    except yaml.YAMLError as bad:
        mark = getattr(bad, "problem_mark", None) or getattr(bad, "context_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        raise SheetError(
            "this line does not fit in here; keys stand at the left edge, the lines under parts and ways begin with `- `",
            line=line,
            column=column,
            name=name,
        ) from None
    except RecursionError:
        raise SheetError("the lines are nested too deep; keys stand at the left edge", line=1, column=1, name=name) from None
    if not isinstance(node, yaml.MappingNode):
        raise SheetError("no key found; begin with `unit: what it is, 230V 50Hz, class II, 40W`", line=1, column=1, name=name)
    return node


def _item(node: yaml.Node, name: str) -> Item:
    line, column = node.start_mark.line + 1, node.start_mark.column + 1
    if not isinstance(node, yaml.ScalarNode):
        raise SheetError("plain words belong here, not a list; write them in one line", line=line, column=column, name=name)
    if node.end_mark.line != node.start_mark.line and node.value:
        raise SheetError("a line cannot go on in the next one; begin the next with `- `", line=line, column=column, name=name)
    return Item(str(node.value).strip(), line, column, name)


def _entries(node: yaml.Node, name: str, what: str) -> dict[str, tuple[Item, yaml.Node]]:
    """Key -> (its item, its value) of a mapping; a repeated key is refused because YAML would keep only the last."""
    out: dict[str, tuple[Item, yaml.Node]] = {}
    for key_node, value in node.value:
        key = _item(key_node, name)
        if key.text in out:
            raise key.fault(
                f"{what} {key.text!r} stands here a second time (first in line {out[key.text][0].line}); put both together"
            )
        out[key.text] = (key, value)
    return out


def _keys(node: yaml.Node, name: str) -> dict[str, yaml.Node]:
    found = _entries(node, name, "key")
    for key, (item, _) in found.items():
        if key not in KEYS:
            raise item.fault(f"{key!r} is no key of a sheet; known: {', '.join(KEYS)}")
    return {key: value for key, (_, value) in found.items()}


def _one(node: yaml.Node, name: str) -> Item:
    item = _item(node, name)
    if not item.text:
        raise item.fault("nothing stands after this key; fill it in or delete the line")
    return item


def _list(node: yaml.Node | None, name: str) -> tuple[Item, ...]:
    """The lines under a key; one line after the key itself will do as well."""
    if node is None:
        return ()
    if isinstance(node, yaml.MappingNode):
        mark = node.start_mark
        raise SheetError("these lines begin with `- `", line=mark.line + 1, column=mark.column + 1, name=name)
    nodes = node.value if isinstance(node, yaml.SequenceNode) else [node]
    return tuple(item for item in (_item(n, name) for n in nodes) if item.text)


def _split(node: yaml.Node | None, at: str, name: str) -> tuple[Item, ...]:
    return tuple(piece for item in _list(node, name) for piece in _pieces(item, at))


def _pieces(item: Item, at: str) -> Iterable[Item]:
    """The parts of an item between separators, each with its own column."""
    for hit in re.finditer(f"[^{at}]+", item.text):
        text = hit[0]
        if text.strip():
            yield Item(text.strip(), item.line, item.column + hit.start() + len(text) - len(text.lstrip()), item.name)


def _pairs(node: yaml.Node | None, name: str) -> tuple[tuple[Item, Item], ...]:
    if node is None or (isinstance(node, yaml.ScalarNode) and not node.value):
        return ()
    if not isinstance(node, yaml.MappingNode):
        raise SheetError(
            "under does each line is `control: PART.output high`",
            line=node.start_mark.line + 1,
            column=node.start_mark.column + 1,
            name=name,
        )
    return tuple((key, _one(value, name)) for key, value in _entries(node, name, "control").values())


_CLASS = re.compile(r"\bclass[ -]?(III|II|I|3|2|1)\b", re.IGNORECASE)
_WANTED = {"V": ("volts", "230V"), "Hz": ("hertz", "50Hz"), "W": ("watts", "40W")}


def read_unit(item: Item) -> Unit:
    """`bread maker, 230V 50Hz, class I, 600W`. Raises SheetError naming whatever is missing: safety needs all of it."""
    words, _, tail = item.text.partition(",")
    if re.match(r"[0-9]", words):  # the rating plate first: nothing before the comma is a name
        words, tail = item.text, ""
    numbers: dict[str, Quantity] = {}
    klass = {k.upper() for k in _CLASS.findall(item.text)}
    kept = [words.strip()] if tail else []
    close = re.sub(r"([0-9]) +(?=(?:Hz|V|W|kW)\b)", r"\1", _CLASS.sub(" ", tail or words), flags=re.IGNORECASE)
    for token in close.replace(", ", " ").split():
        token = token.strip(",").removesuffix("~")
        if not is_quantity(token) or (found := parse_quantity(token)).unit not in _WANTED:
            if tail and re.match(r"[0-9]", token):
                raise item.fault(
                    f"{token!r} in the unit line is not volts, hertz or watts; write the mains it is plugged into, like 230V 50Hz"
                )
            if not tail:
                kept.append(token)
            continue
        if found.doubtful or found.about or not 0 < found.value < 1e6:
            raise item.fault(f"{token!r} in the unit line must be certain and above 0; read the rating plate")
        if found.unit in numbers and numbers[found.unit].value != found.value:
            raise item.fault(f"the unit line names {_WANTED[found.unit][0]} twice; keep the mains value")
        numbers[found.unit] = found
    _all_there(item, numbers, klass, " ".join(kept))
    roman = {"1": "I", "2": "II", "3": "III"}
    said = next(iter(klass))
    return Unit(" ".join(kept), numbers["V"].value, numbers["Hz"].value, roman.get(said, said), numbers["W"].value)


def _all_there(item: Item, numbers: dict[str, Quantity], klass: set[str], words: str) -> None:
    missing = [] if words else ["what it is"]
    missing += [f"{said} (like {example})" for unit, (said, example) in _WANTED.items() if unit not in numbers]
    missing += [] if klass else ["class (I has an earth, II the double square, III is fed from low volts)"]
    if missing:
        raise item.fault(f"the unit line lacks {', '.join(missing)}; the rating plate says it, and safety needs it")
    if len(klass) > 1:
        raise item.fault("the unit line names two classes; keep the one of the rating plate")
