"""The page in headless Chromium: the numbers and words of the native core, no request but itself, a strict policy, size,
accessibility, what a person does with it. What it needs, bindings/web/build.sh --test sets up."""

import json
import os
import threading
from pathlib import Path

import numpy as np
import pytest
from page_kit import ANSWERED, AXE, CASES, JOB, PACKED, WHOLE, ask, differences, link

import libcure
from libcure import ensemble, models
from libcure.cli.page import server
from libcure.errors import CureError
from libcure.render.web_page import FOLDER, pack

PICTURES = os.environ.get("LIBCURE_WEB_PICTURES")

# Of the solver, not of the answer: round-off moves them without moving what they measure.
ROUND_OFF = ("energy_residual", "steps", "rejections")


def of_the_answer(document):
    if isinstance(document, dict):
        return {k: of_the_answer(v) for k, v in document.items() if k not in ROUND_OFF}
    return [of_the_answer(v) for v in document] if isinstance(document, list) else document


@pytest.mark.parametrize("resin", models.ids("resins"))
def test_every_case_with_every_resin_is_predicted_as_by_the_native_core(engine, resin):
    """Point estimates: the ensembles are compared to the bit below."""
    wrong = []
    for file in CASES:
        document = json.loads(file.read_text(encoding="utf-8")) | {"resin": resin}
        request = {"call": "answer", "case": document, "name": file.name, "uncertain": "none", "numerical_error": False}
        found = ask(engine, request)
        try:
            native = libcure.predict(libcure.Case.from_dict(document), uncertain="none", numerical_error=False)
        except CureError as error:
            assert found["error"]["field"] == error.field, (file.name, found)
            continue
        assert "error" not in found, (file.name, found)
        wrong += [f"{file.stem}: {d}" for d in differences("verdict", of_the_answer(found["verdict"]), of_the_answer(native.verdict))]
        rows = [(r["name"], r["time"], r["why"]) for r in found["page"]["rows"]]
        assert rows == [(r.name, r.time, r.why) for r in native.page.rows], file.name
        assert found["page"]["headline"] == native.answer.headline
    assert not wrong, wrong


@pytest.mark.parametrize("resin", models.ids("resins"))
def test_rows_of_an_ensemble_are_those_of_the_native_baseline_to_the_bit(engine, resin):
    """This fails where a vectoriser of the compiler makes wrong code, as it did for one resin."""
    random = np.random.default_rng(7)
    inputs = {
        "ground.temperature_offset_K": random.normal(0.0, 1.0, 32), "initial_temperature.resin_offset_K": random.uniform(-2.0, 2.0, 32),
        "contact_factor": np.exp(random.normal(0.0, 0.7, 32)),
    }  # fmt: skip
    for file in (f for f in CASES if "section" not in json.loads(f.read_text(encoding="utf-8"))):
        document = json.loads(file.read_text(encoding="utf-8")) | {"resin": resin}
        try:
            case = libcure.Case.from_dict(document)
        except CureError:
            continue
        native = ensemble.simulate_many(case, inputs, instructions="baseline")
        found = ask(engine, {"call": "rows", "case": document, "inputs": {k: list(v) for k, v in inputs.items()}})
        assert "error" not in found, found
        assert found["packed"] or resin not in PACKED
        for key in ("working_time_s", "gel_time_first_s", "gel_time_last_s", "release_time_s", "peak_temperature_K"):
            here = np.array([np.nan if x is None else x for x in found[key]])
            if found["packed"]:
                np.testing.assert_array_equal(here, getattr(native, key), err_msg=f"{file.stem} {key}")
            else:
                # One prediction a row, natively by the machine's best instructions.
                np.testing.assert_allclose(here, getattr(native, key), rtol=1e-8, err_msg=f"{file.stem} {key}")


def test_the_job_says_what_the_command_says(opened):
    from libcure.job import job_of
    from libcure.job.facts import fact_named, understood
    from libcure.render.job_page import headline, moments

    said = {k: understood(fact_named(k), v, "metric", k) for k, v in JOB.items() if k not in ("format", "units")}
    job = job_of(said)
    native = libcure.predict(job.case, uncertain=job.ranges)
    opened.wait(WHOLE)
    shown = opened.evaluate("document.getElementById('told').innerText")
    assert headline(job, native) in shown
    for name, moment, band in moments(job, native):
        assert name in shown and moment in shown and band in shown


def test_nothing_is_asked_of_anybody_and_the_console_is_empty(opened):
    opened.evaluate("document.getElementById('link').click()")
    assert opened.console == []
    assert opened.requests
    assert {url.partition(":")[0] for url in opened.requests} <= {"file", "blob", "data"}
    assert len([url for url in opened.requests if url.startswith("file:")]) == 1
    # What a script put in would do, the policy forbids.
    assert opened.evaluate("fetch('https://example.org/').then(() => 'sent', () => 'refused')") == "refused"
    assert opened.evaluate("import('data:text/javascript,1').then(() => 'ran', () => 'refused')") == "refused"


def test_it_is_small_and_its_policy_is_strict(page):
    text = page.read_text(encoding="utf-8")
    assert page.stat().st_size <= 1_200_000
    policy = text.split('Content-Security-Policy" content="')[1].split('"')[0]
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe-inline" not in policy and "'unsafe-eval'" not in policy and "http" not in policy


def test_the_same_inputs_make_the_same_file():
    assert pack() == pack()


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1280, 900)])
def test_it_can_be_used_with_gloves_a_keyboard_and_a_screen_reader(browser, page, width, height):
    browser.size(width, height)
    browser.open(link(page), ANSWERED)
    browser.evaluate("for (const d of document.querySelectorAll('details')) d.open = true;")
    if PICTURES:
        browser.picture(Path(PICTURES) / f"page_{width}.png")
    browser.evaluate(AXE.read_text(encoding="utf-8") + "; 1")
    tags = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    run = f"axe.run(document, {{runOnly: {json.dumps(tags)}}})"
    found = json.loads(browser.evaluate(run + ".then((r) => JSON.stringify({bad: r.violations, good: r.passes.length}))"))
    assert found["good"] > 20
    # color-contrast-enhanced (7:1) is among those of wcag2aaa.
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found["bad"]] == []
    targets = "button, select, summary, input:not([type=radio]):not([type=checkbox]), label.tick"
    small = browser.evaluate(f"var targets = '{targets}';" + """JSON.stringify([...document.querySelectorAll(targets)]
        .filter((e) => e.offsetParent !== null).map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
        .filter(([, r]) => r.width < 48 || r.height < 48))""")
    assert json.loads(small) == []
    # A phone makes its window as wide as what does not fit.
    assert browser.evaluate("[innerWidth, document.documentElement.scrollWidth <= innerWidth]") == [width, True]


def test_an_answer_that_cannot_be_is_said_at_its_question(opened):
    opened.evaluate("questions.get('wall').put('90 C'); changedAnswers()")
    opened.wait("!document.getElementById('e-wall').hidden")
    assert "-10 to 60" in opened.evaluate("document.getElementById('e-wall').textContent")
    assert opened.evaluate("document.getElementById('q-wall').getAttribute('aria-invalid')") == "true"
    assert opened.evaluate("latest === null && document.getElementById('pictures').children.length === 0")
    opened.evaluate("questions.get('wall').put('6 C'); changedAnswers()")
    opened.wait("latest !== null && document.getElementById('e-wall').hidden")


def test_without_a_resin_it_says_so_and_shows_no_time(browser, page):
    browser.open(page.as_uri(), "document.body.dataset.ready === 'yes'")
    assert "without them no time can be told" in browser.evaluate("document.getElementById('answer').innerText")
    assert browser.evaluate("latest === null")
    assert browser.evaluate("localStorage.length") == 0


def test_answers_go_round_through_document_and_units(opened):
    assert json.loads(opened.evaluate("JSON.stringify(jobDocument())")) == JOB
    american = {
        "format": "libcure/job/1", "units": "us", "bore": "6 in", "wall": "43 F", "hot_water": "110 F 10 min", "resin": "epoxy-amine-medium", "packer": "sun",
    }  # fmt: skip
    opened.evaluate(f"putDocument({json.dumps(american)}); changedAnswers()")
    assert json.loads(opened.evaluate("JSON.stringify(jobDocument())")) == american


def test_it_says_what_to_change_and_can_be_stopped(opened):
    opened.evaluate("putDocument({...jobDocument(), in_place: '90'}); changedAnswers()")
    opened.wait("latest && latest.planned_min === 90")
    assert "STOP" in opened.evaluate("document.getElementById('told').innerText")
    opened.evaluate("document.getElementById('advise').click()")
    opened.wait("document.getElementById('advice').innerText !== ''", seconds=300)
    advice = opened.evaluate("document.getElementById('advice').innerText")
    native = libcure.advise(libcure.Case.from_dict(json.loads(opened.evaluate("JSON.stringify(latest.case)"))))
    assert native.proposals and "As planned" in advice
    opened.evaluate("document.getElementById('advise').click()")
    opened.evaluate("document.getElementById('cancel').click()")
    assert "Stopped" in opened.evaluate("document.getElementById('busy-words').textContent")
    opened.evaluate("putDocument({...jobDocument(), in_place: '14'}); changedAnswers()")
    opened.wait("latest && latest.planned_min === 14")


def test_an_own_resin_is_carried(browser, tmp_path):
    own = json.loads((Path(models.__file__).parent / "models" / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))
    file = tmp_path / "our-own.json"
    file.write_text(json.dumps(own | {"id": "our-own", "title": "Ours"}))
    page = tmp_path / "own.html"
    page.write_text(pack([file]), encoding="utf-8")
    browser.open(link(page, JOB | {"resin": "our-own"}), ANSWERED)
    assert browser.evaluate("latest.case.resin") == "our-own"


def test_served_it_works_without_the_server_afterwards(browser):
    running = server([], 0)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    url = f"http://localhost:{running.server_address[1]}/"
    browser.open(url, "document.body.dataset.ready === 'yes'")
    browser.wait("navigator.serviceWorker.controller !== null")
    assert browser.evaluate("fetch('manifest.webmanifest').then((r) => r.json()).then((m) => m.display)") == "standalone"
    running.shutdown()
    running.server_close()
    browser.open(url, "document.body.dataset.ready === 'yes'")
    assert browser.console == []


def test_a_missing_engine_says_how_to_build_it(tmp_path):
    with pytest.raises(CureError, match=r"bindings/web/build\.sh"):
        pack(folder=tmp_path)
    assert FOLDER.is_dir()
