"""A desk over a fresh folder with one small job on it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bench_support import begin, client_on, desk_on
from halfsplit.bench.desk import Desk, OpenJob


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def desk(folder: Path) -> Iterator[Desk]:
    desk = desk_on(folder)
    yield desk
    desk.close()


@pytest.fixture
def job(desk: Desk, folder: Path) -> OpenJob:
    return desk.job(begin(folder))


@pytest.fixture
def page(desk: Desk) -> TestClient:
    return client_on(desk)
