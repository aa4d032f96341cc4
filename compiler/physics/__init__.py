"""What oil and air do to a piston: areas, speeds, forces, pumps, free air, and how long a stroke takes.

Every formula stands once, as a pure function that takes amounts in coherent units: quantities of pint, or plain
numbers in SI base units (m, s, kg, N, Pa, m3/s, W), which give the same and need no unit library. Nothing here knows
of programs, charts in words or reports; pint is imported by ``quantities`` alone, and only when that is used.
"""
