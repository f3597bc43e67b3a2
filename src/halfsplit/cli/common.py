"""What several commands share: the kit option, opening a job, errors as exit code 2."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import click

from halfsplit.errors import HalfsplitError

kit_option = click.option(
    "--kit",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    default=lambda: os.environ.get("HALFSPLIT_KIT"),
    help="Bench kit file (or HALFSPLIT_KIT): meter, lamps, isolation transformer. Without it: cold work only.",
)


def fail(error: HalfsplitError) -> NoReturn:
    """Say what is wrong and leave with 2."""
    click.echo(str(error), err=True)
    sys.exit(2)


def read_kit_file(path: Path | str | None) -> Any:
    """The kit, or the default one."""
    from halfsplit.jobs.kit import default_kit, read_kit

    return default_kit() if path is None else read_kit(Path(path).read_text(encoding="utf-8"), name=str(path))


def open_or_exit(
    job: Path,
    kit: Path | None,
    *,
    as_json: bool = False,
    sheet: Path | None = None,
    progress: Callable[[str], None] | None = None,
) -> Any:
    """Open a job on its log; a sheet file's lines are entered first."""
    from halfsplit.jobs.job import Job

    say = progress or (
        (lambda text: None) if as_json or not sys.stderr.isatty() else (lambda text: click.echo(f"  {text} ...", err=True))
    )
    try:
        opened = Job(job, kit=read_kit_file(kit), progress=say)
        if sheet is not None:
            opened.begin_from_sheet(sheet.read_bytes(), str(sheet))
        return opened
    except HalfsplitError as bad:
        fail(bad)
