"""Spectra, observers, illuminants, XYZ and Lab, adaptation, differences."""
