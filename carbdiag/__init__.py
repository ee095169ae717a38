"""carbdiag."""
