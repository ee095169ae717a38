"""FastAPI service over carbdiag: `uvicorn carbdiag_api.app:app`."""
