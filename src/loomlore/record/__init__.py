"""The record of one installation: its types, and reading, writing and checking its text."""
