"""Shipped kinds, cables and fuses: data files named after their document, and functions that read them."""
