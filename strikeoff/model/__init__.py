"""Forward model, inverse, black policy, gamut mapping: arrays in, arrays out."""
