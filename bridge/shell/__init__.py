"""Floor 3: clocks, threads, ports, sockets and files."""
