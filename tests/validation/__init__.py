"""The page about everything held against the outside: ``python -m tests.validation`` writes it."""
