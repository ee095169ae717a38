"""A page for people that lists the addresses of the service: plain HTML without scripts, so it works offline."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any, Final

from fastapi import Request, Response

_STYLE: Final = (
    "body{font:1rem/1.5 system-ui,sans-serif;max-width:46rem;margin:2rem auto;padding:0 1rem}"
    "code{font-size:1.05em}dt{margin-top:1rem}pre{overflow:auto;border-left:.25rem solid;padding-left:1rem}"
)
_HEADERS: Final = {
    "Cache-Control": "public, max-age=300",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
}


#: A case to JSON, and a post to a message to paste.
_EXAMPLES: Final = (
    ("/v1/diagnoses", '{"findings": [{"finding": "bogs", "at": ["half"]}]}'),
    ("/v1/diagnoses?as=text&form=short", '{"text": "Two stroke, bogs at half throttle since I fitted a pipe."}'),
)


async def lead_to_docs() -> Response:
    """Whoever opens the bare address sees what there is."""
    return Response(status_code=307, headers={"Location": "docs"})


async def show_docs(request: Request) -> Response:
    """The page of this application."""
    page = _page(request.app.openapi(), request.url.netloc)
    return Response("\n".join(page), headers=_HEADERS, media_type="text/html")


def _page(document: Mapping[str, Any], host: str) -> Iterator[str]:
    info = document["info"]
    title = escape(info["title"])
    yield f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
    yield f'<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>'
    yield f"<h1>{title} {escape(info['version'])}</h1><p>{escape(info.get('summary', ''))}</p>"
    yield '<p>The whole description, for programs: <a href="/openapi.json">openapi.json</a>.</p><dl>'
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            if isinstance(operation, Mapping) and "summary" in operation:
                yield f"<dt><code>{escape(method.upper())} {escape(path)}</code> {escape(operation['summary'])}</dt>"
                yield f"<dd>{escape(operation.get('description', ''))}</dd>"
    yield "</dl><p>Try it:</p><pre>"
    for address, body in _EXAMPLES:
        yield escape(f"curl -s '{host}{address}' -H 'content-type: application/json' \\\n  -d '{body}'\n")
    yield "</pre></body></html>"
