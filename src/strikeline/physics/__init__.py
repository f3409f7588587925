"""Strings and stretch: pure functions over arrays, numbers in, numbers out."""
