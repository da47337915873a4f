"""From what is seen to what is wrong: checks, their outcomes under every suspect, and the order to make them in."""
