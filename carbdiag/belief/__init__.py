"""Pure numpy: hypotheses, likelihood, posterior, information. Knows nothing of YAML or of engines."""
