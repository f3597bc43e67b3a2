"""Speech for browsers that have no voice of their own: the machine's espeak-ng, where it is installed."""

from __future__ import annotations

import re
import shutil
import subprocess

LONGEST = 300  # characters that are read out in one go


def can_speak() -> bool:
    """Whether this machine has a voice."""
    return shutil.which("espeak-ng") is not None


def spoken(text: str) -> bytes | None:
    """The text as a WAV; None where there is no voice."""
    program = shutil.which("espeak-ng")
    plain = re.sub(r"[^\w\s.,:;%+/()-]", " ", text)[:LONGEST]
    if program is None or not plain.strip():
        return None
    done = subprocess.run(
        [program, "-v", "en", "-s", "150", "--stdin", "--stdout"],
        input=plain.encode(),
        capture_output=True,
        timeout=10,
        check=False,
    )
    return done.stdout if done.returncode == 0 and done.stdout else None
