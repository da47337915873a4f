"""Test cards: what each measures, what to expect there, and what to beware of."""
