"""Voltage drop, ampacity, protection, loads, endurance, switch ratings, and choosing the lightest cables."""
