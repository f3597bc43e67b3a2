"""halfsplit draw."""

from __future__ import annotations

import re
import zlib
from pathlib import Path
from xml.etree import ElementTree

from click.testing import CliRunner

from halfsplit.cli.main import main

SHEET = Path(__file__).resolve().parents[2] / "examples" / "laminator.yaml"


def test_a_sheet_becomes_an_svg(tmp_path: Path) -> None:
    out = tmp_path / "x.svg"
    done = CliRunner().invoke(main, ["draw", str(SHEET), "-o", str(out)])
    assert done.exit_code == 0, done.output
    root = ElementTree.fromstring(out.read_bytes())
    assert "HTR1" in {t.text for t in root.iter("{http://www.w3.org/2000/svg}text")}


def test_a_job_is_drawn_as_far_as_it_has_come(tmp_path: Path) -> None:
    job = tmp_path / "a.job"
    begun = CliRunner().invoke(main, ["work", str(job), "--sheet", str(SHEET)], input="")
    assert job.exists(), begun.output
    done = CliRunner().invoke(main, ["draw", str(job)])
    assert done.exit_code == 0, done.output
    assert 'data-ref="HTR1"' in done.output


def test_a_pdf_with_words_in_it(tmp_path: Path) -> None:
    out = tmp_path / "x.pdf"
    done = CliRunner().invoke(main, ["draw", str(SHEET), "-o", str(out)])
    assert done.exit_code == 0, done.output
    data = out.read_bytes()
    assert data.startswith(b"%PDF")
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL)
    plain = b"\n".join(zlib.decompress(s) for s in streams if s[:1] == b"x")
    assert re.search(rb"\bT[jJ]\b", plain), "no text was set"
    assert b"beginbfchar" in plain or b"beginbfrange" in plain, "the text can't be searched"


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["draw", str(SHEET), "-o", str(tmp_path / "x.png")])
    assert done.exit_code == 2
    assert ".svg or .pdf" in done.output
