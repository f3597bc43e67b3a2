"""What devices send, with its limits; and what comes back."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, Field

DEVICE = r"^[0-9a-z]{8,32}$"
Name = Annotated[str, Field(max_length=40)]


class Line(BaseModel):
    """One line as typed. key: made once by the device, the same when sent again. stamp: of the view it was typed against."""

    line: str = Field(max_length=1000)
    key: str = Field(pattern=DEVICE)
    stamp: str = Field(max_length=16)
    device: str = Field(pattern=DEVICE)


class SheetText(BaseModel):
    """A sheet as a text."""

    text: str = Field(max_length=40000)


class SheetEdit(SheetText):
    """The same, to be entered. key and device: as of a line."""

    key: str = Field(pattern=DEVICE)
    device: str = Field(pattern=DEVICE)


class Who(BaseModel):
    """A device and what it is called."""

    device: str = Field(pattern=DEVICE)
    name: Name = ""


class NewJob(BaseModel):
    """What is known when a set comes in."""

    unit: str = Field(max_length=200)
    symptom: str = Field(max_length=300)
    start: str = Field(default="", max_length=300)
    sheet: str = Field(default="", max_length=20000)
    ticket: Name = ""
    limit: float | None = Field(default=None, ge=1, le=10000)


class Limits(BaseModel):
    """What may still be changed of the intake."""

    ticket: Name | None = None
    limit: float | None = Field(default=None, ge=1, le=10000)
    closed: bool | None = None


class Answered(BaseModel):
    """What became of a line. version: of the view when it was taken; what it means comes with a later one."""

    taken: bool
    again: bool = False
    refused: str | None = None
    version: int = 0


class Problem(BaseModel):
    """What is wrong and what to do."""

    error: str


NO: dict[int | str, dict[str, Any]] = {code: {"model": Problem} for code in (400, 401, 403, 404, 409, 413, 421, 422)}
