"""The page and its events, served to this computer alone."""

from __future__ import annotations

import json
import secrets
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from socketserver import TCPServer
from typing import Any
from urllib.parse import urlsplit

from pipeline.plain.errors import refuse
from pipeline.watching.known import Known
from pipeline.watching.page import make_page, show_state

ADDRESS = "127.0.0.1"
_HOSTS = (ADDRESS, "localhost")
_SECONDS = 10.0  # for a browser to say what it wants
_SIGN_OF_LIFE = 15.0  # seconds; also after which a page that was closed is noticed
_MOST_PAGES = 50  # open at once
_HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Connection": "close",
}


class Server(ThreadingHTTPServer):
    """Serves a report on a port of this computer.

    Args:
        report: its file, which may not be there yet.
        port: 0 for a free one.

    Raises:
        ProjectError: the port is not free.
    """

    daemon_threads = True

    def __init__(self, report: Path, known: Known, port: int = 0) -> None:
        self.report, self.known = report, known
        self.pages = threading.BoundedSemaphore(_MOST_PAGES)
        try:
            super().__init__((ADDRESS, port), _Answer)
        except OSError as error:
            hint = "name another with port=NUMBER, or leave it out for a free one"
            raise refuse("watch", "port", f"{port} cannot be used: {error.strerror}", hint) from None
        self.hosts = {f"{host}:{self.server_port}" for host in _HOSTS}

    def server_bind(self) -> None:
        """Bind without asking the network for this computer's name, as the standard library would."""
        TCPServer.server_bind(self)
        self.server_name, self.server_port = ADDRESS, int(self.server_address[1])

    @property
    def url(self) -> str:
        """The address of the page."""
        return f"http://{ADDRESS}:{self.server_port}/"

    def start(self) -> None:
        """Serve in a thread until this process ends or ``shutdown`` is called."""
        threading.Thread(target=self.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True).start()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a page that was closed while it was answered."""


class _Answer(BaseHTTPRequestHandler):
    server: Server  # pyright: ignore[reportIncompatibleVariableOverride] (the standard library's own type is the general one)
    protocol_version = "HTTP/1.1"
    server_version, sys_version = "romwright", ""
    timeout = _SECONDS

    def do_GET(self) -> None:  # noqa: N802 (the standard library's name)
        """Answer with the page, its events, or a refusal."""
        self.close_connection = True
        # A page of another site can send a browser here under its own name, but cannot change what the browser says of that name.
        if self.headers.get_all("Host") not in [[host] for host in self.server.hosts]:
            return self._refuse(HTTPStatus.MISDIRECTED_REQUEST, f"This page is at {self.server.url}")
        path = urlsplit(self.path).path
        if path == "/":
            return self._show_page()
        if path == "/events":
            return self._show_events()
        return self._refuse(HTTPStatus.NOT_FOUND, f"There is only the report, at {self.server.url}")

    def _show_page(self) -> None:
        nonce = secrets.token_urlsafe(16)
        page = make_page(self.server.report, self.server.known.now, nonce)
        allowed = {
            "default-src": "'none'",
            "img-src": "data:",
            "media-src": "data:",
            "style-src": "'unsafe-inline'",
            "script-src": f"'nonce-{nonce}'",
            "connect-src": "'self'",
            "frame-ancestors": "'none'",
            "base-uri": "'none'",
            "form-action": "'none'",
        }
        policy = "; ".join(f"{name} {value}" for name, value in allowed.items())
        self._begin(HTTPStatus.OK, "text/html; charset=utf-8", {"Content-Security-Policy": policy, "Content-Length": str(len(page))})
        self.wfile.write(page)

    def _show_events(self) -> None:
        """Send the state at once, and again whenever it changes, as HTML's server-sent events."""
        if not self.server.pages.acquire(blocking=False):
            return self._refuse(HTTPStatus.SERVICE_UNAVAILABLE, "Too many pages are open.")
        try:
            self._begin(HTTPStatus.OK, "text/event-stream; charset=utf-8", {})
            serial = -1
            while not self.server.known.over:
                state = self.server.known.after(serial, _SIGN_OF_LIFE)
                if state is None:
                    self.wfile.write(b":\n\n")
                    continue
                serial = state.serial
                event = {"build": state.build, "state": show_state(state), "said": state.said, "report": state.report}
                self.wfile.write(f"data: {json.dumps(event)}\n\n".encode())
        finally:
            self.server.pages.release()

    def _refuse(self, status: HTTPStatus, text: str) -> None:
        body = f"{text}\n".encode()
        self._begin(status, "text/plain; charset=utf-8", {"Content-Length": str(len(body))})
        self.wfile.write(body)

    def _begin(self, status: HTTPStatus, kind: str, more: dict[str, str]) -> None:
        self.send_response(status)
        for name, value in {"Content-Type": kind, **_HEADERS, **more}.items():
            self.send_header(name, value)
        self.end_headers()

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 (the standard library's name)
        """Log nothing: the terminal is the build's."""
