"""What several test files share."""

import pytest
from hypothesis import settings
from small_chart import small

import libcure

# The same examples in every run and on every processor.
settings.register_profile("fixed", deadline=None, derandomize=True)
settings.load_profile("fixed")


@pytest.fixture(scope="session")
def small_result():
    """The small chart, computed."""
    return libcure.chart(small(sensitivity__cells="centre"))
