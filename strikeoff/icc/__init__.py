"""ICC profile format: header, one module per tag type, a plain evaluator."""
