"""Fuzzing of every reader of foreign text: targets, seeds, and two ways to search."""
