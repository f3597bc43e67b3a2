"""Worked cases of one file share what was solved of their circuit: they run in one process (`--dist loadgroup`)."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent.name == "cases":
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
