"""A pytest plugin: which mistakes of the core each test reaches, and how long it takes, as JSON beside the file of marks."""

import json
import mmap
import os
import time
from pathlib import Path

import pytest

MARKS = Path(os.environ["LIBCURE_MUTANTS_REACHED"])


class ReachedByTest:
    def __init__(self):
        MARKS.write_bytes(bytes(4096))
        with MARKS.open("r+b") as file:
            self.marks = mmap.mmap(file.fileno(), 4096)
        self.fixtures: dict[str, set[int]] = {}
        self.own: set[int] = set()
        self.tests: dict[str, dict] = {}

    def taken(self) -> set[int]:
        """What was marked since this was asked last."""
        numbers = {number for number, mark in enumerate(self.marks[:]) if mark}
        self.marks[:] = bytes(len(self.marks))
        return numbers

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        # What a fixture that several tests share reaches, all of them reach.
        self.own |= self.taken()
        yield
        self.fixtures.setdefault(fixturedef.argname, set()).update(self.taken())

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item):
        self.own, began = self.taken(), time.monotonic()
        yield
        # By function: all its parameters together.
        test = self.tests.setdefault(item.nodeid.partition("[")[0], {"s": 0.0, "reaches": set()})
        test["s"] += time.monotonic() - began
        test["reaches"].update(self.own, self.taken(), *(self.fixtures.get(name, ()) for name in item.fixturenames))

    def pytest_sessionfinish(self):
        said = {name: {"s": round(test["s"], 2), "reaches": sorted(test["reaches"])} for name, test in self.tests.items()}
        MARKS.with_suffix(".json").write_text(json.dumps(said))


def pytest_configure(config):
    config.pluginmanager.register(ReachedByTest())
