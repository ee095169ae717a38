"""FastAPI service over carbdiag."""
