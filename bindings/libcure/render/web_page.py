"""The page for a phone: the core as WebAssembly, the models and all else in one HTML file that asks nobody for anything."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from libcure import _core, models
from libcure.documents import models_folder, read_object, shown, validate
from libcure.errors import CureError, input_error
from libcure.render.chart_question import CHART_WORDS, question_of
from libcure.render.html import source
from libcure.words.phrases import LANGUAGES, catalogue

__all__ = ["FOLDER", "MANIFEST", "pack", "page_phrases", "service_worker"]

FOLDER = models_folder().parent / "web"
"""Page and engine, as installed."""
SCRIPTS = (
    "kit.js", "phrases.js", "solver.js", "questions.js", "picture.js", "answer.js", "after.js", "record.js", "charts.js", "hand_on.js", "page.js",
)  # fmt: skip
"""In this order; before them the rule by which a chart is read, which the chart's own page has too."""
PHRASES = ("web_", "core_", "caution_")
SHARED = ("cautions", "to")
"""Beginnings of the keys that are the page's; a chart's words are those of its own page."""
NOT_IN_A_SCRIPT = {0: "\u0080", 13: "\u0081", 60: "\u0082"}
CHART_RESULT = "libcure/chart-result/1"
KINDS = ("resins", "materials", "grounds")

MANIFEST = json.dumps({
    "name": "libcure", "short_name": "libcure", "start_url": "./", "scope": "./", "display": "standalone", "background_color": "#ffffff",
    "theme_color": "#0b3d66", "icons": [{"src": "icon.svg", "sizes": "any", "type": "image/svg+xml"}],
})  # fmt: skip


def pack(own_resins: Iterable[Path] = (), *, charts: Iterable[Path] = (), served: bool = False, folder: Path = FOLDER) -> str:
    """The page as the text of one HTML file.

    Args:
        own_resins: files of resin models to carry besides those of libcure, by the names of the files.
        charts: files of computed charts, ``libcure/chart-result/1``, to read in the page.
        served: for a page that is served: with manifest and service worker, so that it can be installed.
        folder: where page and engine are.

    Raises:
        CureError: the engine is not built, or a file is refused.
    """
    code, module = folder / "engine.js", folder / "engine.wasm"
    if not (code.is_file() and module.is_file()):
        raise input_error("page", f"no engine in {folder}", "a built one: run bindings/web/build.sh in a checkout of libcure")
    script = "\n".join([source("chart_ask.js"), *((folder / name).read_text(encoding="utf-8") for name in SCRIPTS)])
    if served:
        script += (folder / "served.js").read_text(encoding="utf-8")
    script = _inside("\n" + script)
    style = (folder / "page.css").read_text(encoding="utf-8")
    engine = "\n".join([code.read_text(encoding="utf-8"), _qr(folder), (folder / "worker.js").read_text(encoding="utf-8")])
    parts = {
        "policy": _policy(script, style, served),
        "style": style,
        "code": _packed(engine.encode()),
        "module": _packed(module.read_bytes()),
        "files": _packed(_text(_files(own_resins)).encode()),
        "phrases": _packed(_text(page_phrases()).encode()),
        "charts": _packed(_text([_chart(path) for path in charts]).encode()),
        "script": script,
        "version": _core.__version__,
    }
    page = (folder / "index.html").read_text(encoding="utf-8")
    # In one pass, so that what was put in is not looked at.
    return re.sub(r"@(\w+)@", lambda found: parts[found[1]], page)


def page_phrases() -> dict[str, dict[str, str]]:
    """What the page says, by language and key."""
    keys = [key for key in catalogue("en") if key.startswith(PHRASES) or key in (*CHART_WORDS, *SHARED)]
    return {language: {key: catalogue(language)[key] for key in keys} for language in LANGUAGES}


def _chart(path: Path) -> dict[str, Any]:
    """A computed chart as the page reads it.

    Raises:
        CureError: it is no ``libcure/chart-result/1``.
    """
    document = read_object(path)
    told = document.get("format")
    if told != CHART_RESULT:
        raise input_error("format", json.dumps(told), f'"{CHART_RESULT}", as libcure chart writes it', shown(path))
    try:
        validate(document)
    except CureError as error:
        raise input_error(error.field, error.value, error.allowed, shown(path)) from None
    return {"title": document["title"], "ask": question_of(document), "notes": [*document["sanity"]["violations"], *document["cautions"]]}


def _qr(folder: Path) -> str:
    """The maker of codes, a module of its own, as a script."""
    text = (folder / "uqr.mjs").read_text(encoding="utf-8")
    licence = (folder / "uqr.LICENSE").read_text(encoding="utf-8")
    return f"/*\n{licence}*/\nconst qr = (() => {{\n{re.sub(r'^export .*$', '', text, flags=re.M)}\nreturn {{ encode }};\n}})();"


def service_worker(page: str) -> str:
    """Keeps a served page for flight mode; a new page has a new name."""
    name = "libcure-" + hashlib.sha256(page.encode()).hexdigest()[:16]
    kept = json.dumps(["./", "manifest.webmanifest", "icon.svg"])
    return f"""const NAME = "{name}";
self.addEventListener("install", (e) => e.waitUntil(caches.open(NAME).then((c) => c.addAll({kept})).then(() => self.skipWaiting())));
self.addEventListener("activate", (e) => e.waitUntil(
  caches.keys().then((all) => Promise.all(all.filter((n) => n !== NAME).map((n) => caches.delete(n)))).then(() => self.clients.claim())));
self.addEventListener("fetch", (e) => e.respondWith(caches.match(e.request).then((kept) => kept || fetch(e.request))));
"""


def _inside(text: str) -> str:
    """A script's text so that nothing in it ends the element."""
    return text.replace("</script", "<\\/script").replace("<!--", "<\\!--")


def _packed(data: bytes) -> str:
    """Compressed, without a date so that the same inputs make the same file, in text of 7 bits a letter.

    An eighth smaller than base64. What a script element may not hold as it is (NUL, CR) and what could end it (<) stand as the
    letters from U+0080 on; page.js reads it back.
    """
    packed = gzip.compress(data, 9, mtime=0)
    count = -(-8 * len(packed) // 7)
    # In pieces of 7 bytes, which are 8 letters.
    letters = bytearray()
    for at in range(0, len(packed), 7):
        piece = int.from_bytes(packed[at : at + 7], "little")
        letters += bytes(piece >> 7 * i & 127 for i in range(8))
    return letters[:count].decode("ascii").translate(NOT_IN_A_SCRIPT)


def _policy(script: str, style: str, served: bool) -> str:
    """What the page may do: its own script and style, by their hashes, its engine, and a worker made of it."""

    def hash_of(text: str) -> str:
        return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"

    itself = " 'self'" if served else ""
    icons = "'self' data:" if served else "data:"
    rules = [
        "default-src 'none'", f"script-src {hash_of(script)} 'wasm-unsafe-eval' blob:", f"worker-src blob:{itself}",
        f"style-src {hash_of(style)}", f"img-src {icons}", "base-uri 'none'", "form-action 'none'",
    ]  # fmt: skip
    if served:
        rules += ["manifest-src 'self'", "connect-src 'self'"]
    return "; ".join(rules)


def _files(own_resins: Iterable[Path]) -> dict[str, str]:
    """Texts of model files by their path below the models' folder, without what is only for people's eyes."""
    found = {f"{kind}/{path.name}": _text(read_object(path)) for kind in KINDS for path in sorted((models_folder() / kind).glob("*.json"))}
    for path in own_resins:
        document = read_object(path)
        models.read_resin(path)
        name = f"resins/{path.name}"
        if name in found:
            raise input_error("--resin", f'"{path}"', "a name that none of libcure's models has")
        found[name] = _text(document)
    return found


def _text(document: Any) -> str:
    return json.dumps(document, separators=(",", ":"), ensure_ascii=False)
