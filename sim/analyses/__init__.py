"""Studies that go beyond one comparison; they simulate only through the engine."""
