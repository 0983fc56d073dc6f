"""Swatch books: named colours, their recipes in a condition, and the tint tables that print them."""
