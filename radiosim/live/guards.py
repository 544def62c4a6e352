"""Who may ask: only a page of this server, opened with its token, in a browser on this machine.

Source: OWASP cheat sheets on cross-site request forgery, on content security policy and on DNS
rebinding; W3C "Fetch Metadata Request Headers"; from memory.
"""

import hmac
from email.message import Message

from msgspec import Struct

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
        "img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
LARGEST_BYTES = 16_384
"""Of a question."""

WRONG_HOST, NOT_FOUND, FORBIDDEN, WRONG_KIND = 421, 404, 403, 415


class Door(Struct, frozen=True, kw_only=True):
    """What a request must show."""

    port: int
    token: str

    @property
    def hosts(self) -> tuple[str, ...]:
        """As a browser on this machine writes this server."""
        return f"127.0.0.1:{self.port}", f"localhost:{self.port}"

    def refusal(self, method: str, path: str, headers: Message) -> int:
        """Status to refuse with; 0: come in."""
        host = "".join(headers.get_all("Host", ()))
        if host not in self.hosts:
            # Another site's name that was made to mean this machine.
            return WRONG_HOST
        first = path.removeprefix("/").partition("/")[0]
        if not hmac.compare_digest(first.encode(), self.token.encode()):
            return NOT_FOUND
        # A typed address comes from nowhere; a question never does.
        places = ("same-origin",) if method == "POST" else ("same-origin", "none")
        if headers.get("Sec-Fetch-Site", "same-origin") not in places:
            return FORBIDDEN
        if method == "POST":
            if headers.get("Origin") != f"http://{host}":
                return FORBIDDEN
            kind = headers.get("Content-Type", "").partition(";")[0].strip().lower()
            if kind != "application/json":
                return WRONG_KIND
        return 0
