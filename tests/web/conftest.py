"""One browser for all tests of the page."""

import json

import pytest
from browser import Browser
from page_kit import ANSWERED, link

from libcure.render.web_page import pack


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    found = Browser(tmp_path_factory.mktemp("profile"))
    yield found
    found.close()


@pytest.fixture(scope="session")
def page(tmp_path_factory):
    file = tmp_path_factory.mktemp("page") / "page.html"
    file.write_text(pack(), encoding="utf-8")
    return file


@pytest.fixture
def opened(browser, page):
    """The page with an answer to JOB."""
    browser.size(1280, 900)
    browser.open(link(page), ANSWERED)
    return browser


@pytest.fixture
def engine(browser, page):
    """The page as it stands, opened only when it is not open: for tests that ask its engine and leave it as it is."""
    if not browser.evaluate(f"location.href.startsWith({json.dumps(page.as_uri())}) && document.body.dataset.ready === 'yes'"):
        browser.open(link(page), ANSWERED)
    return browser
