"""Charts: which patches, where they stand on the cloth, and the files that say so."""
