"""What a person reads: each result as text for the terminal, some as a page."""
