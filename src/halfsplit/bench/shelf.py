"""The folder of jobs: each a log file, with a small file of intake data and its photographs beside it."""

from __future__ import annotations

import io
import json
import os
import re
import struct
import threading
import zlib
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from halfsplit.errors import InputError

ID = re.compile(r"[a-z0-9][a-z0-9-]{0,60}")
MOST_PIXELS = 40_000_000  # of a photograph that is taken in; larger ones are no snapshots
SIDE = 2400  # pixels of the longer side that are kept: a label stays legible
BIGGEST_UPLOAD = 15_000_000  # bytes
# what a library for pictures raises where the data are not one
UNREADABLE = (OSError, SyntaxError, ValueError, EOFError, KeyError, IndexError, TypeError, OverflowError, struct.error, zlib.error)


class NotThere(InputError):
    """A job or a photograph that the shelf has not got."""


@dataclass(frozen=True)
class Intake:
    """What was said when the set came in. ticket: the shop's own number or name. limit: minutes that may be spent, None: not said.
    photos: file names, in order."""

    ticket: str = ""
    limit: float | None = None
    closed: bool = False
    photos: tuple[str, ...] = ()


class Shelf:
    """Jobs in one folder. An id is the file's name without `.job`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._guard = threading.Lock()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as bad:
            raise InputError(f"{folder}: {bad.strerror}; name another folder with --jobs") from None

    def ids(self) -> list[str]:
        """Every job, the one last worked on first."""
        files = [p for p in self.folder.glob("*.job") if ID.fullmatch(p.stem)]
        return [p.stem for p in sorted(files, key=lambda p: -p.stat().st_mtime)]

    def path(self, job: str) -> Path:
        """The log of a job that is there. Raises InputError."""
        path = self._path(job)
        if not path.is_file():
            raise NotThere(f"there is no job {job!r}; the list shows those that are")
        return path

    def begin(self, words: str) -> str:
        """An id for a new job, from what the unit is: the next number and a word or two."""
        taken = [int(m[1]) for p in self.folder.glob("*.job") if (m := re.match(r"(\d+)", p.stem))]
        slug = "-".join(re.findall(r"[a-z0-9]+", words.lower())[:3])[:40]
        number = max(taken, default=0) + 1
        while True:
            job = f"{number}-{slug}" if slug else str(number)
            try:
                os.close(os.open(self._path(job), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
            except FileExistsError:
                number += 1
                continue
            return job

    def intake(self, job: str) -> Intake:
        """What was said at intake; nothing where the file is missing."""
        try:
            data = json.loads(self._beside(job, "json").read_text(encoding="utf-8"))
            return Intake(**{**data, "photos": tuple(data.get("photos", ()))})
        except FileNotFoundError:
            return Intake()
        except (ValueError, TypeError):
            raise InputError(
                f"{self._beside(job, 'json')}: not intake data; the file is kept. Rename it and enter the intake again"
            ) from None

    def keep(self, job: str, intake: Intake) -> None:
        """Write the intake data: whole or not at all."""
        whole_file(self._beside(job, "json"), json.dumps(asdict(intake), indent=1).encode())

    def change(self, job: str, **said: Any) -> Intake:
        """Put some of the intake data in place of what stood; all of it as it now stands."""
        with self._guard:
            intake = replace(self.intake(job), **said)
            self.keep(job, intake)
        return intake

    def add_photo(self, job: str, data: bytes) -> str:
        """A photograph, drawn anew as a plain picture without what cameras write into it; its name. Raises InputError."""
        from PIL import Image, ImageOps, UnidentifiedImageError

        folder = self._beside(job, "photos")
        if len(data) > BIGGEST_UPLOAD:
            raise InputError(
                f"the picture has {len(data) / 1e6:.0f} MB, {BIGGEST_UPLOAD / 1e6:.0f} at most; take it with fewer pixels"
            )
        try:
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as raw:
                if raw.width * raw.height > MOST_PIXELS:
                    raise InputError(f"the picture has {raw.width} x {raw.height} pixels; take it with fewer")
                picture = ImageOps.exif_transpose(raw).convert("RGB")
        except InputError:
            raise
        except (*UNREADABLE, UnidentifiedImageError, Image.DecompressionBombError):
            raise InputError("this is no picture that can be read; a JPEG, PNG or WebP photograph is wanted") from None
        picture.info.clear()  # a comment would be written again
        picture.thumbnail((SIDE, SIDE))
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=85)
        folder.mkdir(exist_ok=True)
        with self._guard:
            name = f"{len(list(folder.glob('*.jpg'))) + 1}.jpg"
            whole_file(folder / name, out.getvalue())
            intake = self.intake(job)
            self.keep(job, replace(intake, photos=(*intake.photos, name)))
        return name

    def photo(self, job: str, name: str) -> bytes:
        """One photograph. Raises InputError."""
        path = self._beside(job, "photos") / name
        if name not in self.intake(job).photos or not path.is_file():
            raise NotThere(f"job {job} has no photograph {name[:40]!r}")
        return path.read_bytes()

    def _path(self, job: str) -> Path:
        return self._beside(job, "job")

    def _beside(self, job: str, ending: str) -> Path:
        if not ID.fullmatch(job):
            raise NotThere(f"{job[:40]!r} is no name of a job; small letters, digits and hyphens are")
        return self.folder / f"{job}.{ending}"


def whole_file(path: Path, data: bytes) -> None:
    """Put a file in place in one step, on the disk."""
    piece = path.with_name(path.name + ".new")
    with piece.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    os.replace(piece, path)
