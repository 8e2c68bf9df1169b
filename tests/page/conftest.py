"""A page on a copy of the invented farm."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_browser import SHIPPED, Browser, browser


@pytest.fixture(scope="session")
def shared(tmp_path_factory) -> Browser:
    """One page for tests that change nothing."""
    folder = tmp_path_factory.mktemp("page") / "farm"
    shutil.copytree(SHIPPED, folder)
    return browser(folder / "quernhope.yaml")


@pytest.fixture
def farm(tmp_path) -> Path:
    folder = tmp_path / "farm"
    shutil.copytree(SHIPPED, folder)
    return folder / "quernhope.yaml"


@pytest.fixture
def client(farm) -> Browser:
    return browser(farm)
