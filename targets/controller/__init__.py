"""What every text for a controller has in common: names, wires, edges, times, outputs, interlocks, the lines of a
page. Targets that print a program for a controller build on it; it prints nothing itself and knows no target."""
