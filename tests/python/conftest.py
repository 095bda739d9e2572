"""What several test files share."""

import pytest
from small_chart import small

import libcure


@pytest.fixture(scope="session")
def small_result():
    """The small chart, computed."""
    return libcure.chart(small(sensitivity__cells="centre"))
