"""A part named again: what was seen later takes the place of what was assumed before, in the text of the sheet itself."""

from __future__ import annotations

import re

from halfsplit.units import is_quantity

SheetLines = tuple[tuple[str, str], ...]
_PIECE = re.compile(r"\s*(?P<ref>[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?)(?P<doubt>\??)\s+(?P<words>\S.*?)\s*")


def said_last(sheet: SheetLines) -> SheetLines:
    """The sheet with every `R5 driver-R 10k` put where R5 was first named, and every `R8 resistor 360R` where a way doubted it.

    Only a single designator with a value that is not doubted itself; everything else stays, and is refused as ever.
    """
    out: list[tuple[str, str]] = []
    for key, text in sheet:
        if key != "parts":
            out.append((key, text))
            continue
        left = [piece for piece in text.split(";") if not _replaced(out, piece)]
        if left:
            out.append((key, ";".join(left)))
    return tuple(out)


def _replaced(out: list[tuple[str, str]], piece: str) -> bool:
    """Puts the piece where its part stands already; False where it is new."""
    hit = _PIECE.fullmatch(piece)
    if hit is None or hit["doubt"] or "=" in piece or "," in piece:
        return False
    ref, words = hit["ref"], hit["words"]
    for at, (key, text) in enumerate(out):
        if key == "parts":
            pieces = text.split(";")
            same = [k for k, p in enumerate(pieces) if (m := _PIECE.fullmatch(p)) and m["ref"] == ref]
            if same and "," not in pieces[same[0]] and "=" not in pieces[same[0]]:
                pieces[same[0]] = f" {piece.strip()}" if same[0] else piece.strip()
                out[at] = (key, ";".join(pieces))
                return True
        if key in ("way", "ways") and any(is_quantity(w) for w in words.split()):
            walked = re.compile(rf"(?<![\w-]){re.escape(ref)}(?P<doubt>\??)(?P<legs>\.[\w+~-]+)?\((?P<spec>[^)]*)\)")
            found = walked.search(text)
            if found and (found["doubt"] or "?" in found["spec"]):
                new = f"{ref}{found['legs'] or ''}({words})"
                out[at] = (key, re.sub(rf"(?<![\w-]){re.escape(ref)}\?", ref, text[: found.start()] + new + text[found.end() :]))
                return True
    return False
