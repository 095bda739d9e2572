"""What is installed for the tests fits what pyproject.toml asks for."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
DEPENDENCIES = SETTINGS["project"]["dependencies"]
LINES = (ROOT / "tests" / "constraints.txt").read_text(encoding="utf-8").splitlines()
PINS = dict(line.split("==") for line in LINES if not line.startswith("#"))


@pytest.mark.parametrize(
    "line", [*SETTINGS["build-system"]["requires"], *DEPENDENCIES, *SETTINGS["project"]["optional-dependencies"]["test"]]
)
def test_every_package_is_pinned_within_its_floor(line):
    wanted = Requirement(line)
    pins = {canonicalize_name(name): version for name, version in PINS.items()}
    assert pins[canonicalize_name(wanted.name)] in wanted.specifier


def test_every_dependency_has_one_floor_that_can_be_installed():
    for line in DEPENDENCIES:
        assert re.fullmatch(r"[a-z][a-z0-9-]*>=[0-9.]+", line), line
