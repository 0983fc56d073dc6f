"""Pixels in bands: the band protocol, resampling, table kernels, multi-ink TIFF."""
