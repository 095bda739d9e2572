"""``libcure page``: writes the page for a phone, or serves it on this machine."""

from __future__ import annotations

from collections.abc import Sequence
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from rich.console import Console
from rich.text import Text

from libcure import documents
from libcure.errors import input_error
from libcure.render.web_page import FOLDER, MANIFEST, pack, service_worker

__all__ = ["run", "server"]


def run(console: Console, *, out: Path | None, serve: bool, port: int, resins: Sequence[Path], charts: Sequence[Path]) -> None:
    """The command.

    Args:
        console: to print on.
        out: HTML file to write.
        serve: serve it until stopped.
        port: of localhost; 0 takes a free one.
        resins: files of own resin models to carry.
        charts: computed charts to carry.

    Raises:
        CureError: neither is asked for, the engine is not built, or a file is refused.
    """
    if out is None and not serve:
        raise input_error("--out", "missing", "a file that ends in .html, or --serve")
    target = None if out is None else documents.output_path(out, "--out", (".html",))
    if target is not None:
        page = pack(resins, charts=charts)
        with documents.replacing(target) as file:
            # Line ends as they are: the packed parts are text.
            file.write_text(page, encoding="utf-8", newline="")
        console.print(Text(f"{out}: {len(page.encode()) / 1e3:.0f} kB; opens on any phone or laptop, without network."), soft_wrap=True)
    if serve:
        with server(resins, port, charts) as running:
            console.print(Text(f"http://localhost:{running.server_address[1]}/   (Ctrl-C ends it)"), soft_wrap=True)
            running.serve_forever()


def server(resins: Sequence[Path], port: int, charts: Sequence[Path] = ()) -> ThreadingHTTPServer:
    """A server of this machine for the page, its manifest and its service worker.

    Raises:
        CureError: the port is taken.
    """
    page = pack(resins, charts=charts, served=True)
    answers = {
        "/": ("text/html; charset=utf-8", page.encode()),
        "/manifest.webmanifest": ("application/manifest+json", MANIFEST.encode()),
        "/service-worker.js": ("text/javascript", service_worker(page).encode()),
        "/icon.svg": ("image/svg+xml", (FOLDER / "icon.svg").read_bytes()),
    }

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            kind, body = answers.get(self.path.partition("?")[0], ("", b""))
            self.send_response(200 if kind else 404)
            self.send_header("Content-Type", kind or "text/plain")
            self.send_header("Content-Length", str(len(body)))
            self.send_header("X-Content-Type-Options", "nosniff")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            """Quiet: the terminal shows the address."""

    try:
        return ThreadingHTTPServer(("127.0.0.1", port), Handler)
    except OSError as error:
        raise input_error("--port", str(port), f"a free port ({error.strerror})") from None
