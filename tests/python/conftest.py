"""What several test files share."""

import pytest
from hypothesis import settings
from small_chart import small

import libcure

# The same examples in every run and on every processor.
settings.register_profile("fixed", deadline=None, derandomize=True)
settings.load_profile("fixed")


# The longest files first, so that no processor waits for one of them at the end.
LONGEST = (
    "test_study", "test_chart_seeds", "test_advise", "test_fit_models_run", "test_fit_results", "test_fit_recovery", "test_follow", "test_follow_watch",
    "test_section", "test_record",
)  # fmt: skip


def pytest_collection_modifyitems(items):
    """Puts them first; the order of the others stays."""
    items.sort(key=lambda item: LONGEST.index(item.path.stem) if item.path.stem in LONGEST else len(LONGEST))


@pytest.fixture(scope="session")
def small_result():
    """The small chart, computed."""
    return libcure.chart(small(sensitivity__cells="centre"))


@pytest.fixture(scope="session")
def case():
    """The shipped winter job."""
    return libcure.load_case(libcure.models_folder() / "cases/cold_ground_winter.json")


@pytest.fixture(scope="session")
def result(case):
    """Its prediction."""
    return libcure.predict(case)
