"""What the commands answer: one frozen result each, with its words, its table of data, and its notebook view.

The command line, the bench and a notebook all show the same results; only the painting differs.
"""
