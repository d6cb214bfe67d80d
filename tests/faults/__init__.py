"""What goes wrong around the program: disks, processes, signals, streams, other people's files."""
