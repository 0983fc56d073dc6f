"""Customers' images as band sources with their colour space."""
