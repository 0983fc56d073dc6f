"""Tag types, one module each: a record, `decode` and `encode`."""
