"""Drawn plates: scenes in millimetres, symbols, layout, furniture and painters."""
