"""The command `carbdiag serve`."""

from __future__ import annotations

import argparse
import importlib

from carbdiag.command_tools import BAD_INPUT, FINE, BadInputError
from carbdiag.knowledge import shipped_knowledge


def run(chosen: argparse.Namespace) -> int:
    """Answer over HTTP until it is stopped; the status is the command's."""
    try:
        uvicorn = importlib.import_module("uvicorn")
        importlib.import_module("fastapi")
    except ModuleNotFoundError as missing:
        raise BadInputError(
            [f"the service needs {missing.name}; install it with: pip install 'carbdiag[service]'"]
        ) from None
    app = importlib.import_module("carbdiag_api.app").create_app(shipped_knowledge())
    try:
        uvicorn.run(app, host=chosen.host, port=chosen.port)
    except SystemExit:  # it has said why it cannot listen there
        return BAD_INPUT
    return FINE
