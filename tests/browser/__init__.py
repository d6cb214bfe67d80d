"""The pages in a real browser: what a coach sees, prints and can reach with the keyboard."""
