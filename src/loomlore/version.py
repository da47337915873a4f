"""The version of the package, in a module of its own so that nobody inside imports the package root."""

VERSION = "0.1.0"
